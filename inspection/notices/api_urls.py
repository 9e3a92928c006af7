from django.urls import path

from inspection.notices import api

urlpatterns = [
    path("notices/", api.NoticeList.as_view(), name="api_notice_list"),
    path("notices/<uuid:pk>/", api.NoticeDetail.as_view(), name="api_notice"),
    path("projects/<uuid:pk>/notices/give/", api.NoticeGive.as_view(), name="api_notice_give"),
    path("notices/<uuid:pk>/move/", api.NoticeMove.as_view(), name="api_notice_move"),
    path("notices/<uuid:pk>/withdraw/", api.NoticeWithdraw.as_view(), name="api_notice_withdraw"),
    path("notices/<uuid:pk>/take-withdrawal-back/", api.NoticeRestore.as_view(), name="api_notice_restore"),
    path("notices/<uuid:pk>/acknowledge/", api.NoticeAcknowledge.as_view(), name="api_notice_acknowledge"),
    path(
        "notices/<uuid:pk>/take-acknowledgement-back/", api.NoticeUnacknowledge.as_view(),
        name="api_notice_unacknowledge",
    ),
    path("notices/<uuid:pk>/outcome/", api.NoticeOutcome.as_view(), name="api_notice_outcome"),
    path("notices/<uuid:pk>/take-outcome-back/", api.NoticeReopen.as_view(), name="api_notice_reopen"),
]  # fmt: skip
