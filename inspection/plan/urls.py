from django.urls import path

from inspection.plan import line_views, views

urlpatterns = [
    path("projects/<uuid:pk>/plan/", views.plan, name="plan"),
    path("projects/<uuid:pk>/plan/begin/", views.plan_begin, name="plan_begin"),
    path("projects/<uuid:pk>/legend/", line_views.plan_legend, name="plan_legend"),
    path("projects/<uuid:pk>/calendar/", line_views.plan_calendar, name="plan_calendar"),
    path("plan-templates/", views.plan_templates, name="plan_templates"),
    path("plan-templates/legend/", line_views.company_legend, name="company_legend"),
    path("plan-revisions/<uuid:pk>/", views.plan_revision, name="plan_revision"),
    path("plan-revisions/<uuid:pk>/lines.csv", views.plan_file, name="plan_file"),
    path("plan-revisions/<uuid:pk>/line/", line_views.plan_line_new, name="plan_line_new"),
    path("plan-revisions/<uuid:pk>/table/", line_views.plan_table, name="plan_table"),
    path("plan-revisions/<uuid:pk>/ask/", views.plan_ask, name="plan_ask"),
    path("plan-revisions/<uuid:pk>/approve/", views.plan_approve, name="plan_approve"),
    path("plan-revisions/<uuid:pk>/force/", views.plan_force, name="plan_force"),
    path("plan-revisions/<uuid:pk>/throw-away/", views.plan_throw_away, name="plan_throw_away"),
    path("plan-revisions/<uuid:pk>/take-up/", views.plan_take_up, name="plan_take_up"),
    path("plan-revisions/<uuid:pk>/revise/", views.plan_revise, name="plan_revise"),
    path("plan-revisions/<uuid:pk>/keep/", views.plan_keep, name="plan_keep"),
    path("plan-approvals/<uuid:pk>/withdraw/", views.plan_withdraw, name="plan_withdraw"),
    path("plan-lines/<uuid:pk>/", line_views.plan_line, name="plan_line"),
    path("plan-lines/<uuid:pk>/take-out/", line_views.plan_line_out, name="plan_line_out"),
]
