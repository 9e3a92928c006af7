from django.urls import path

from inspection.holdpoints import nonconformance_views as nonconformances
from inspection.holdpoints import planning_views as plans
from inspection.holdpoints import views

urlpatterns = [
    path("hold-points/", views.board, name="board"),
    path("hold-points/<uuid:pk>/", views.point, name="point"),
    path("hold-points/<uuid:pk>/release/", views.point_release, name="point_release"),
    path("hold-points/<uuid:pk>/refuse/", views.point_refuse, name="point_refuse"),
    path("hold-points/<uuid:pk>/present/", views.point_present, name="point_present"),
    path("hold-points/<uuid:pk>/rename/", plans.point_rename, name="point_rename"),
    path("hold-points/<uuid:pk>/remove/", plans.point_remove, name="point_remove"),
    path("hold-points/<uuid:pk>/close/", plans.point_close, name="point_close"),
    path("hold-points/<uuid:pk>/reopen/", plans.point_reopen, name="point_reopen"),
    path("hold-points/<uuid:pk>/take-refusal-back/", views.point_unrefuse, name="point_unrefuse"),
    path("projects/<uuid:pk>/hold-points/plan/", views.points_plan, name="points_plan"),
    path("nonconformances/", nonconformances.nonconformance_list, name="nonconformance_list"),
    path("nonconformances/<uuid:pk>/", nonconformances.nonconformance, name="nonconformance"),
    path("nonconformances/<uuid:pk>/rework/", nonconformances.nonconformance_rework, name="nonconformance_rework"),
    path("nonconformances/<uuid:pk>/concede/", nonconformances.nonconformance_concede, name="nonconformance_concede"),
    path("dispositions/<uuid:pk>/take-back/", nonconformances.disposition_take_back, name="disposition_take_back"),
    path("nonconformances/<uuid:pk>/close/", nonconformances.nonconformance_close, name="nonconformance_close"),
    path("projects/<uuid:pk>/nonconformances/new/", nonconformances.nonconformance_new, name="nonconformance_new"),
]
