from django.urls import path

from inspection.plan import api, table_api

urlpatterns = [
    path("plan-revisions/", api.RevisionList.as_view(), name="api_plan_revision_list"),
    path("plan-revisions/<uuid:pk>/", api.RevisionDetail.as_view(), name="api_plan_revision"),
    path("plan-revisions/<uuid:pk>/lines/", api.RevisionLines.as_view(), name="api_plan_lines"),
    path("plan-revisions/<uuid:pk>/lines/files/", table_api.LineFiles.as_view(), name="api_plan_table"),
    path("plan-revisions/<uuid:pk>/ask/", api.RevisionAsk.as_view(), name="api_plan_ask"),
    path("plan-revisions/<uuid:pk>/approve/", api.RevisionApprove.as_view(), name="api_plan_approve"),
    path("plan-revisions/<uuid:pk>/force/", api.RevisionForce.as_view(), name="api_plan_force"),
    path("plan-revisions/<uuid:pk>/revise/", api.RevisionRevise.as_view(), name="api_plan_revise"),
    path("plan-revisions/<uuid:pk>/throw-away/", api.RevisionThrowAway.as_view(), name="api_plan_throw_away"),
    path("plan-revisions/<uuid:pk>/take-up/", api.RevisionTakeUp.as_view(), name="api_plan_take_up"),
    path("plan-approvals/<uuid:pk>/withdraw/", api.ApprovalWithdraw.as_view(), name="api_plan_withdraw"),
]
