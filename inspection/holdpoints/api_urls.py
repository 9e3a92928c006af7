from django.urls import path

from inspection.holdpoints import api

urlpatterns = [
    path("hold-points/", api.PointList.as_view(), name="api_point_list"),
    path("hold-points/<uuid:pk>/", api.PointDetail.as_view(), name="api_point"),
    path("hold-points/<uuid:pk>/release/", api.PointRelease.as_view(), name="api_point_release"),
    path("hold-points/<uuid:pk>/refuse/", api.PointRefuse.as_view(), name="api_point_refuse"),
    path("hold-points/<uuid:pk>/waive/", api.PointWaive.as_view(), name="api_point_waive"),
    path("hold-points/<uuid:pk>/attend/", api.PointAttend.as_view(), name="api_point_attend"),
    path("lots/<uuid:pk>/chain/", api.LotChain.as_view(), name="api_lot_chain"),
    path("projects/<uuid:pk>/hold-points/decide/", api.PointsDecide.as_view(), name="api_points_decide"),
    path("projects/<uuid:pk>/hold-points/several/", api.PointsSeveral.as_view(), name="api_points_several"),
    path("projects/<uuid:pk>/matrix/", api.Matrix.as_view(), name="api_points_matrix"),
    path("projects/<uuid:pk>/hold-points/apply/", api.PlanApply.as_view(), name="api_plan_apply"),
    path("hold-points/<uuid:pk>/present/", api.PointPresent.as_view(), name="api_point_present"),
    path("hold-points/<uuid:pk>/take-refusal-back/", api.PointUnrefuse.as_view(), name="api_point_unrefuse"),
    path("hold-points/<uuid:pk>/rename/", api.PointRename.as_view(), name="api_point_rename"),
    path("hold-points/<uuid:pk>/remove/", api.PointRemove.as_view(), name="api_point_remove"),
    path("hold-points/<uuid:pk>/close/", api.PointClose.as_view(), name="api_point_close"),
    path("hold-points/<uuid:pk>/reopen/", api.PointReopen.as_view(), name="api_point_reopen"),
]
