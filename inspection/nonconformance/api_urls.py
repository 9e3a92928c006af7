from django.urls import path

from inspection.nonconformance import api, extent_api, repaired_api, rework_api

urlpatterns = [
    path("nonconformances/", api.NonconformanceList.as_view(), name="api_nonconformance_list"),
    path("nonconformances/<uuid:pk>/", api.NonconformanceDetail.as_view(), name="api_nonconformance"),
    path("nonconformances/<uuid:pk>/entries/", api.NonconformanceSay.as_view(), name="api_nonconformance_say"),
    path("nonconformances/<uuid:pk>/rework/", api.NonconformanceRework.as_view(), name="api_nonconformance_rework"),
    path("nonconformances/<uuid:pk>/answer/", api.NonconformanceAnswer.as_view(), name="api_nonconformance_answer"),
    path("nonconformances/<uuid:pk>/concede/", api.NonconformanceConcede.as_view(), name="api_nonconformance_concede"),
    path("nonconformances/<uuid:pk>/issue/", api.NonconformanceIssue.as_view(), name="api_nonconformance_issue"),
    path("nonconformances/<uuid:pk>/drop/", api.NonconformanceDrop.as_view(), name="api_nonconformance_drop"),
    path("nonconformances/<uuid:pk>/extent/", extent_api.Extent.as_view(), name="api_nonconformance_extent"),
    path("extent-spots/<uuid:pk>/take-back/", extent_api.SpotTakeBack.as_view(), name="api_extent_spot_take_back"),
    path(
        "nonconformances/<uuid:pk>/repaired-part/",
        repaired_api.Repaired.as_view(),
        name="api_nonconformance_repaired_part",
    ),
    path("repaired-parts/<uuid:pk>/", repaired_api.RepairedDetail.as_view(), name="api_repaired_part"),
    path("repaired-parts/<uuid:pk>/undo/", repaired_api.RepairedUndo.as_view(), name="api_repaired_part_undo"),
    path("rework/", rework_api.ReworkList.as_view(), name="api_rework_list"),
    path("rework/<uuid:pk>/", rework_api.ReworkDetail.as_view(), name="api_rework"),
    path("rework/<uuid:pk>/done/", rework_api.ReworkDone.as_view(), name="api_rework_done"),
    path("rework/<uuid:pk>/look/", rework_api.ReworkLook.as_view(), name="api_rework_look"),
    path("rework/<uuid:pk>/drop/", rework_api.ReworkDrop.as_view(), name="api_rework_drop"),
    path("rework-entries/<uuid:pk>/take-back/", rework_api.ReworkTakeBack.as_view(), name="api_rework_take_back"),
    path("dispositions/<uuid:pk>/take-back/", api.DispositionTakeBack.as_view(), name="api_disposition_take_back"),
]
