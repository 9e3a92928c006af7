from django.urls import path

from inspection.nonconformance import views

urlpatterns = [
    path("nonconformances/", views.nonconformance_list, name="nonconformance_list"),
    path("nonconformances/<uuid:pk>/", views.nonconformance, name="nonconformance"),
    path("nonconformances/<uuid:pk>/rework/", views.nonconformance_rework, name="nonconformance_rework"),
    path("nonconformances/<uuid:pk>/answer/", views.nonconformance_answer, name="nonconformance_answer"),
    path("nonconformances/<uuid:pk>/concede/", views.nonconformance_concede, name="nonconformance_concede"),
    path("dispositions/<uuid:pk>/take-back/", views.disposition_take_back, name="disposition_take_back"),
    path("nonconformances/<uuid:pk>/close/", views.nonconformance_close, name="nonconformance_close"),
    path("nonconformances/<uuid:pk>/issue/", views.nonconformance_issue, name="nonconformance_issue"),
    path("nonconformances/<uuid:pk>/drop/", views.nonconformance_drop, name="nonconformance_drop"),
    path("projects/<uuid:pk>/nonconformances/new/", views.nonconformance_new, name="nonconformance_new"),
]
