from django.urls import path

from inspection.nonconformance import extent_views, repaired_views, rework_views, views

urlpatterns = [
    path("nonconformances/", views.nonconformance_list, name="nonconformance_list"),
    path("nonconformances/<uuid:pk>/", views.nonconformance, name="nonconformance"),
    path("nonconformances/<uuid:pk>/say/", views.nonconformance_say, name="nonconformance_say"),
    path("nonconformances/<uuid:pk>/rework/", views.nonconformance_rework, name="nonconformance_rework"),
    path("nonconformances/<uuid:pk>/answer/", views.nonconformance_answer, name="nonconformance_answer"),
    path("nonconformances/<uuid:pk>/concede/", views.nonconformance_concede, name="nonconformance_concede"),
    path("dispositions/<uuid:pk>/take-back/", views.disposition_take_back, name="disposition_take_back"),
    path("nonconformances/<uuid:pk>/close/", views.nonconformance_close, name="nonconformance_close"),
    path("nonconformances/<uuid:pk>/issue/", views.nonconformance_issue, name="nonconformance_issue"),
    path("nonconformances/<uuid:pk>/drop/", views.nonconformance_drop, name="nonconformance_drop"),
    path("projects/<uuid:pk>/nonconformances/new/", views.nonconformance_new, name="nonconformance_new"),
    path("nonconformances/<uuid:pk>/extent/", extent_views.extent, name="nonconformance_extent"),
    path("nonconformances/<uuid:pk>/extent/drawing/", extent_views.drawing, name="nonconformance_extent_drawing"),
    path("extent-spots/<uuid:pk>/take-back/", extent_views.take_back, name="extent_spot_take_back"),
    path("nonconformances/<uuid:pk>/repaired-part/", repaired_views.make, name="nonconformance_repaired_part"),
    path("repaired-parts/<uuid:pk>/", repaired_views.repaired_part, name="repaired_part"),
    path("repaired-parts/<uuid:pk>/undo/", repaired_views.undo, name="repaired_part_undo"),
    path("rework/", rework_views.rework_list, name="rework_list"),
    path("rework/<uuid:pk>/", rework_views.rework_item, name="rework_item"),
    path("rework/<uuid:pk>/done/", rework_views.rework_done, name="rework_done"),
    path("rework/<uuid:pk>/look/", rework_views.rework_look, name="rework_look"),
    path("rework/<uuid:pk>/drop/", rework_views.rework_drop, name="rework_drop"),
    path("rework/entries/<uuid:pk>/take-back/", rework_views.rework_take_back, name="rework_take_back"),
    path("projects/<uuid:pk>/rework/new/", rework_views.rework_new, name="rework_new"),
]
