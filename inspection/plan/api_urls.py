from django.urls import path

from inspection.plan import api

urlpatterns = [
    path("plan-revisions/", api.RevisionList.as_view(), name="api_plan_revision_list"),
    path("plan-revisions/<uuid:pk>/", api.RevisionDetail.as_view(), name="api_plan_revision"),
    path("plan-revisions/<uuid:pk>/lines/", api.RevisionLines.as_view(), name="api_plan_lines"),
]
