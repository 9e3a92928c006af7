from django.urls import path

from inspection.recall import batch_views, views

urlpatterns = [
    path("trace/", views.trace, name="trace"),
    path("trace/recall/batches/<uuid:pk>/", batch_views.recall_batch, name="recall_batch"),
    path("trace/recall/batches/<uuid:pk>/reinstate/", batch_views.reinstate, name="recall_batch_reinstate"),
    path("trace/recall/<uuid:pk>/", views.recall, name="recall"),
    path("trace/recall/<uuid:pk>/correct/", views.recall_correct, name="recall_correct"),
    path("trace/recall/<uuid:pk>/reinstate/", views.recall_reinstate, name="recall_reinstate"),
    path("trace/recalls/asked/<uuid:pk>/", views.recall_asked, name="recall_asked"),
    path("trace/recalls/<uuid:pk>/", views.recalled, name="recalled"),
]
