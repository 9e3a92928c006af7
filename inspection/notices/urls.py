from django.urls import path

from inspection.notices import step_views as steps
from inspection.notices import views

urlpatterns = [
    path("notices/", views.notice_list, name="notice_list"),
    path("notices/<uuid:pk>/", views.notice, name="notice"),
    path("notices/<uuid:pk>/appointment.ics", views.notice_file, name="notice_file"),
    path("notices/<uuid:pk>/move/", steps.notice_move, name="notice_move"),
    path("notices/<uuid:pk>/withdraw/", steps.notice_withdraw, name="notice_withdraw"),
    path("notices/<uuid:pk>/take-withdrawal-back/", steps.notice_restore, name="notice_restore"),
    path("notices/<uuid:pk>/acknowledge/", steps.notice_acknowledge, name="notice_acknowledge"),
    path("notices/<uuid:pk>/take-acknowledgement-back/", steps.notice_unacknowledge, name="notice_unacknowledge"),
    path("notices/<uuid:pk>/outcome/", steps.notice_outcome, name="notice_outcome"),
    path("notices/<uuid:pk>/take-outcome-back/", steps.notice_reopen, name="notice_reopen"),
    path("projects/<uuid:pk>/notices/new/", views.notice_new, name="notice_new"),
]
