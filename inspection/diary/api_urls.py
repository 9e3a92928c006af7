from django.urls import path

from inspection.diary import api

urlpatterns = [
    path("projects/<uuid:pk>/day/", api.DayDetail.as_view(), name="api_day"),
    path("projects/<uuid:pk>/day/sign/", api.DaySign.as_view(), name="api_day_sign"),
    path("projects/<uuid:pk>/diary/", api.EntryWrite.as_view(), name="api_diary_write"),
    path("diary/", api.EntryList.as_view(), name="api_diary_list"),
    path("diary/<uuid:pk>/", api.EntryDetail.as_view(), name="api_diary_entry"),
    path("diary/<uuid:pk>/correct/", api.EntryCorrect.as_view(), name="api_diary_correct"),
    path("diary/<uuid:pk>/withdraw/", api.EntryWithdraw.as_view(), name="api_diary_withdraw"),
    path("diary/<uuid:pk>/restore/", api.EntryRestore.as_view(), name="api_diary_restore"),
    path("diary/<uuid:pk>/read/", api.NoteReading.as_view(), name="api_note_read"),
    path("day-signatures/", api.SignatureList.as_view(), name="api_day_signature_list"),
    path("day-signatures/<uuid:pk>/", api.SignatureDetail.as_view(), name="api_day_signature"),
    path("day-signatures/<uuid:pk>/withdraw/", api.SignatureWithdraw.as_view(), name="api_day_signature_withdraw"),
]
