from django.urls import path

from inspection.recall import api

urlpatterns = [
    path("batches/<uuid:pk>/touched/", api.BatchTouched.as_view(), name="api_batch_touched"),
    path("batches/<uuid:pk>/recall/", api.BatchRecall.as_view(), name="api_batch_recall"),
    path("batches/<uuid:pk>/reinstate/", api.BatchReinstate.as_view(), name="api_batch_reinstate"),
    path("recalls/", api.RecallList.as_view(), name="api_recall_list"),
    path("recalls/<uuid:pk>/", api.RecallDetail.as_view(), name="api_recall"),
]
