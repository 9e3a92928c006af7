from django.urls import path

from inspection.holdpoints import awaited_views, matrix_views, several_views, views
from inspection.holdpoints import planning_views as plans

urlpatterns = [
    path("hold-points/", views.board, name="board"),
    path("waits-for-you/", awaited_views.points_awaited, name="points_awaited"),
    path("hold-points/<uuid:pk>/", views.point, name="point"),
    path("hold-points/<uuid:pk>/release/", views.point_release, name="point_release"),
    path("hold-points/<uuid:pk>/refuse/", views.point_refuse, name="point_refuse"),
    path("hold-points/<uuid:pk>/waive/", views.point_waive, name="point_waive"),
    path("hold-points/<uuid:pk>/attend/", views.point_attend, name="point_attend"),
    path("hold-points/<uuid:pk>/present/", views.point_present, name="point_present"),
    path("hold-points/<uuid:pk>/rename/", plans.point_rename, name="point_rename"),
    path("hold-points/<uuid:pk>/remove/", plans.point_remove, name="point_remove"),
    path("hold-points/<uuid:pk>/close/", plans.point_close, name="point_close"),
    path("hold-points/<uuid:pk>/reopen/", plans.point_reopen, name="point_reopen"),
    path("hold-points/<uuid:pk>/take-refusal-back/", views.point_unrefuse, name="point_unrefuse"),
    path("projects/<uuid:pk>/hold-points/release/", views.points_release, name="points_release"),
    path("projects/<uuid:pk>/hold-points/several/", several_views.points_several, name="points_several"),
    path("hold-points/<uuid:pk>/presented/", views.point_presented, name="point_presented"),
    path("projects/<uuid:pk>/matrix/", matrix_views.points_matrix, name="points_matrix"),
    path("projects/<uuid:pk>/hold-points/apply/", matrix_views.plan_apply, name="plan_apply"),
    path("projects/<uuid:pk>/hold-points/plan/", views.points_plan, name="points_plan"),
]
