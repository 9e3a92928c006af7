from django.urls import path

from inspection.works import views

urlpatterns = [
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
