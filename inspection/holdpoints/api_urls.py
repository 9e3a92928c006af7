from django.urls import path

from inspection.holdpoints import api

urlpatterns = [
    path("hold-points/", api.PointList.as_view(), name="api_point_list"),
    path("hold-points/<uuid:pk>/", api.PointDetail.as_view(), name="api_point"),
    path("hold-points/<uuid:pk>/release/", api.PointRelease.as_view(), name="api_point_release"),
    path("hold-points/<uuid:pk>/refuse/", api.PointRefuse.as_view(), name="api_point_refuse"),
    path("nonconformances/", api.NonconformanceList.as_view(), name="api_nonconformance_list"),
    path("nonconformances/<uuid:pk>/", api.NonconformanceDetail.as_view(), name="api_nonconformance"),
]
