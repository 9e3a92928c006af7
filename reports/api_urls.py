from django.urls import path

from reports.daily import api
from reports.handover import api as handover
from reports.papers import api as papers
from reports.questions import api as questions

urlpatterns = [
    path("projects/<uuid:project>/handover/", handover.Handover.as_view(), name="api_handover"),
    path("projects/<uuid:project>/paper-head/", papers.ProjectPaperHead.as_view(), name="api_project_head"),
    path("reading-questions/", questions.QuestionList.as_view(), name="api_question_list"),
    path("reading-questions/<uuid:pk>/", questions.QuestionDetail.as_view(), name="api_question"),
    path("reading-questions/<uuid:pk>/answer/", questions.QuestionAnswer.as_view(), name="api_question_answer"),
    path("reports/", api.ReportList.as_view(), name="api_report_list"),
    path("reports/<uuid:pk>/", api.ReportDetail.as_view(), name="api_report"),
    path("reports/<uuid:pk>/revisions/<int:revision>/file/", api.ReportFile.as_view(), name="api_report_file"),
]
