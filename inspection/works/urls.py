from django.urls import path

from inspection.works import views
from inspection.works.lots import progress_views
from inspection.works.lots import views as lot_views
from inspection.works.paint import mix_views
from inspection.works.paint import views as paint_views

urlpatterns = [
    path("projects/<uuid:pk>/lots/", lot_views.lot_list, name="lot_list"),
    path("projects/<uuid:pk>/lots/new/", lot_views.lot_new, name="lot_new"),
    path("projects/<uuid:pk>/recoat-clock/", lot_views.recoat_clock, name="recoat_clock"),
    path("projects/<uuid:pk>/progress/", progress_views.progress, name="progress"),
    path("projects/<uuid:pk>/progress/chart.svg", progress_views.progress_chart, name="progress_chart"),
    path("lots/<uuid:pk>/", lot_views.lot, name="lot"),
    path("lots/<uuid:pk>/end/", lot_views.lot_end, name="lot_end"),
    path("lots/<uuid:pk>/correct/", lot_views.lot_correct, name="lot_correct"),
    path("lots/<uuid:pk>/withdraw/", lot_views.lot_withdraw, name="lot_withdraw"),
    path("lots/<uuid:pk>/restore/", lot_views.lot_restore, name="lot_restore"),
    path("projects/<uuid:pk>/batches/", paint_views.batch_list, name="batch_list"),
    path("projects/<uuid:pk>/batches/new/", paint_views.batch_new, name="batch_new"),
    path("projects/<uuid:pk>/batches/table/", paint_views.batch_upload, name="batch_upload"),
    path("projects/<uuid:pk>/batches/labels/", paint_views.batch_labels, name="batch_labels"),
    path("batches/<uuid:pk>/", paint_views.batch, name="batch"),
    path("batches/<uuid:pk>/correct/", paint_views.batch_correct, name="batch_correct"),
    path("batches/<uuid:pk>/file/", paint_views.batch_file, name="batch_file"),
    path("batches/steps/<uuid:pk>/file/", paint_views.batch_step_file, name="batch_step_file"),
    path("batches/steps/<uuid:pk>/withdraw/", paint_views.batch_step_withdraw, name="batch_step_withdraw"),
    path("projects/<uuid:pk>/mixes/", mix_views.mix_list, name="mix_list"),
    path("projects/<uuid:pk>/mixes/new/", mix_views.mix_new, name="mix_new"),
    path("mixes/<uuid:pk>/", mix_views.mix, name="mix"),
    path("mixes/<uuid:pk>/correct/", mix_views.mix_correct, name="mix_correct"),
    *(
        path(f"{place}/<uuid:pk>/{deed}/", view, {"deed": deed}, name=f"{name}_{deed}")
        for place, name, view, deeds in (
            ("batches", "batch", paint_views.batch_change, paint_views.DEEDS),
            ("mixes", "mix", mix_views.mix_change, mix_views.DEEDS),
        )
        for deed in deeds
    ),
    path("projects/<uuid:pk>/crews/", views.crew_list, name="crew_list"),
    path("projects/<uuid:pk>/crews/new/", views.crew_new, name="crew_new"),
    path("crews/<uuid:pk>/", views.crew, name="crew"),
    path("crews/<uuid:pk>/people/new/", views.crew_people, name="crew_people"),
    path("crews/<uuid:pk>/shifts/plan/", views.shifts_plan, name="shifts_plan"),
    path("crews/<uuid:pk>/shifts/start/", views.shift_start, name="shift_start"),
    path("crews/shifts/<uuid:pk>/end/", views.shift_end, name="shift_end"),
    *(
        path(f"{place}/<uuid:pk>/{deed}/", view, {"deed": deed}, name=f"{name}_{deed.replace('-', '_')}")
        for place, name, view, deeds in (
            ("crews", "crew", views.crew_change, views.CREW_DEEDS),
            ("crews/people", "crew_part", views.part_change, views.PART_DEEDS),
            ("crews/shifts", "shift", views.shift_change, views.SHIFT_DEEDS),
        )
        for deed in deeds
    ),
]
