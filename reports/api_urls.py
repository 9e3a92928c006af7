from django.urls import path

from reports.daily import api
from reports.daily import dividing_api as dividing
from reports.handover import api as handover
from reports.papers import api as papers
from reports.questions import api as questions

urlpatterns = [
    path("projects/<uuid:project>/handover/", handover.Handover.as_view(), name="api_handover"),
    path("paper-head/", papers.CompanyPaperHead.as_view(), name="api_company_head"),
    path("projects/<uuid:project>/paper-head/", papers.ProjectPaperHead.as_view(), name="api_project_head"),
    path("projects/<uuid:project>/reporting/", dividing.ProjectReporting.as_view(), name="api_project_reporting"),
    path("reportings/<uuid:pk>/take-back/", dividing.ReportingBack.as_view(), name="api_reporting_back"),
    path("reading-questions/", questions.QuestionList.as_view(), name="api_question_list"),
    path("reading-questions/<uuid:pk>/", questions.QuestionDetail.as_view(), name="api_question"),
    path("reading-questions/<uuid:pk>/answer/", questions.QuestionAnswer.as_view(), name="api_question_answer"),
    path("reports/", api.ReportList.as_view(), name="api_report_list"),
    path("reports/<uuid:pk>/", api.ReportDetail.as_view(), name="api_report"),
    path("reports/<uuid:pk>/review/", api.ReportReview.as_view(), name="api_report_review"),
    path("reports/<uuid:pk>/review/take-back/", api.ReportUnreview.as_view(), name="api_report_unreview"),
    path("reports/<uuid:pk>/revisions/<int:revision>/comment/", api.ReportComment.as_view(), name="api_report_comment"),
    path("reports/<uuid:pk>/revisions/<int:revision>/sign/", api.ReportSign.as_view(), name="api_report_sign"),
    path("report-words/<uuid:pk>/take-back/", api.ReportWordBack.as_view(), name="api_report_word_back"),
    path("reports/<uuid:pk>/revisions/<int:revision>/file/", api.ReportFile.as_view(), name="api_report_file"),
]
