from django.urls import path

from inspection.works import api
from inspection.works.lots import api as lot_api
from inspection.works.lots import progress_api
from inspection.works.paint import api as paint_api
from inspection.works.paint import table_api

urlpatterns = [
    path("lots/", lot_api.LotList.as_view(), name="api_lot_list"),
    path("lots/<uuid:pk>/", lot_api.LotDetail.as_view(), name="api_lot"),
    path("lots/<uuid:pk>/end/", lot_api.LotEnd.as_view(), name="api_lot_end"),
    path("lots/<uuid:pk>/correct/", lot_api.LotCorrect.as_view(), name="api_lot_correct"),
    path("lots/<uuid:pk>/withdraw/", lot_api.LotWithdraw.as_view(), name="api_lot_withdraw"),
    path("lots/<uuid:pk>/restore/", lot_api.LotRestore.as_view(), name="api_lot_restore"),
    path("projects/<uuid:pk>/lots/begin/", lot_api.LotBegin.as_view(), name="api_lot_begin"),
    path("projects/<uuid:pk>/progress/", progress_api.ProgressOf.as_view(), name="api_progress"),
    path("projects/<uuid:pk>/recoat-clock/", lot_api.RecoatClock.as_view(), name="api_recoat_clock"),
    path("projects/<uuid:pk>/batches/files/", table_api.BatchFiles.as_view(), name="api_batch_table"),
    path("batches/", paint_api.BatchList.as_view(), name="api_batch_list"),
    path("batches/<uuid:pk>/", paint_api.BatchDetail.as_view(), name="api_batch"),
    path("batches/<uuid:pk>/correct/", paint_api.BatchCorrect.as_view(), name="api_batch_correct"),
    path("batches/<uuid:pk>/extend/", paint_api.BatchExtend.as_view(), name="api_batch_extend"),
    path("batches/<uuid:pk>/quarantine/", paint_api.BatchQuarantine.as_view(), name="api_batch_quarantine"),
    path("batches/<uuid:pk>/release/", paint_api.BatchRelease.as_view(), name="api_batch_release"),
    path("batches/<uuid:pk>/withdraw/", paint_api.BatchWithdraw.as_view(), name="api_batch_withdraw"),
    path("batches/<uuid:pk>/restore/", paint_api.BatchRestore.as_view(), name="api_batch_restore"),
    path("batch-steps/<uuid:pk>/withdraw/", paint_api.StepWithdraw.as_view(), name="api_batch_step_withdraw"),
    path("mixes/", paint_api.MixList.as_view(), name="api_mix_list"),
    path("mixes/<uuid:pk>/", paint_api.MixDetail.as_view(), name="api_mix"),
    path("mixes/<uuid:pk>/correct/", paint_api.MixCorrect.as_view(), name="api_mix_correct"),
    path("mixes/<uuid:pk>/use/", paint_api.MixUse.as_view(), name="api_mix_use"),
    path("mixes/<uuid:pk>/withdraw/", paint_api.MixWithdraw.as_view(), name="api_mix_withdraw"),
    path("mixes/<uuid:pk>/restore/", paint_api.MixRestore.as_view(), name="api_mix_restore"),
    path("crews/", api.CrewList.as_view(), name="api_crew_list"),
    path("crews/add/", api.CrewAdd.as_view(), name="api_crew_add"),
    path("crews/<uuid:pk>/", api.CrewDetail.as_view(), name="api_crew"),
    path("crews/<uuid:pk>/rename/", api.CrewRename.as_view(), name="api_crew_rename"),
    path("crews/<uuid:pk>/end/", api.CrewEnd.as_view(), name="api_crew_end"),
    path("crews/<uuid:pk>/restore/", api.CrewRestore.as_view(), name="api_crew_restore"),
    path("crews/<uuid:pk>/people/", api.CrewPeople.as_view(), name="api_crew_people"),
    path("crews/<uuid:pk>/plan/", api.ShiftsPlan.as_view(), name="api_shifts_plan"),
    path("crews/<uuid:pk>/start/", api.ShiftStart.as_view(), name="api_shift_start"),
    path("crew-people/<uuid:pk>/correct/", api.PartCorrect.as_view(), name="api_crew_part_correct"),
    path("crew-people/<uuid:pk>/remove/", api.PartRemove.as_view(), name="api_crew_part_remove"),
    path("shifts/", api.ShiftList.as_view(), name="api_shift_list"),
    path("shifts/<uuid:pk>/", api.ShiftDetail.as_view(), name="api_shift"),
    path("shifts/<uuid:pk>/end/", api.ShiftEnd.as_view(), name="api_shift_end"),
    path("shifts/<uuid:pk>/correct/", api.ShiftCorrect.as_view(), name="api_shift_correct"),
    path("shifts/<uuid:pk>/replan/", api.ShiftReplan.as_view(), name="api_shift_replan"),
    path("shifts/<uuid:pk>/call-off/", api.ShiftCallOff.as_view(), name="api_shift_call_off"),
    path("shifts/<uuid:pk>/restore/", api.ShiftRestore.as_view(), name="api_shift_restore"),
]
