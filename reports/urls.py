from django.urls import path

from reports.attention import calendar_views as calendar
from reports.attention import contractor_views as contractors
from reports.attention import views as attention
from reports.daily import dividing_views as dividing
from reports.daily import views
from reports.handover import views as handover
from reports.papers import views as papers
from reports.questions import views as questions
from reports.work import health

urlpatterns = [
    path("", attention.home, name="home"),
    path("healthz", health.healthz, name="healthz"),
    path("readyz", health.readyz, name="readyz"),
    path("calendar/", calendar.calendar, name="calendar"),
    path("calendar/<uuid:pk>/revoke/", calendar.calendar_revoke, name="calendar_revoke"),
    path("calendar/<str:token>.ics", calendar.calendar_feed, name="calendar_feed"),
    path("asked-of-us/", contractors.asked_of_us, name="asked_of_us"),
    path("projects/<uuid:pk>/our-areas/", contractors.areas_of_ours, name="areas_of_ours"),
    path("decisions/", attention.decisions, name="decisions"),
    path("projects/<uuid:pk>/handover/", handover.handover, name="handover"),
    path("papers/head/", papers.company_head, name="company_head"),
    path("papers/logo/<str:digest>/", papers.company_logo, name="company_logo"),
    path("projects/<uuid:pk>/paper-head/", papers.project_head, name="project_head"),
    path("projects/<uuid:pk>/reporting/", dividing.project_reporting, name="project_reporting"),
    path("reporting/<uuid:pk>/take-back/", dividing.reporting_back, name="reporting_back"),
    path("questions/", questions.question_list, name="question_list"),
    path("questions/<uuid:pk>/", questions.question, name="question"),
    path("reports/", views.report_list, name="report_list"),
    path("reports/check/", views.report_check, name="report_check"),
    path("reports/<uuid:pk>/", views.report, name="report"),
    path("reports/<uuid:pk>/build/", views.report_build, name="report_build"),
    path("reports/<uuid:pk>/review/", views.report_review, name="report_review"),
    path("reports/<uuid:pk>/unreview/", views.report_unreview, name="report_unreview"),
    path("reports/<uuid:pk>/comment/", views.report_comment, name="report_comment"),
    path("reports/<uuid:pk>/sign/", views.report_sign, name="report_sign"),
    path("reports/words/<uuid:pk>/take-back/", views.report_word_back, name="report_word_back"),
    path("reports/<uuid:pk>/issue/", views.report_issue, name="report_issue"),
    path("reports/<uuid:pk>/set-aside/", views.report_set_aside, name="report_set_aside"),
    path("reports/<uuid:pk>/draft.pdf", views.report_draft, name="report_draft"),
    path("reports/<uuid:pk>/revision-<int:revision>.pdf", views.report_file, name="report_file"),
]
