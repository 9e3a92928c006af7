from django.urls import path

from inspection.drawings import api, note_api

urlpatterns = [
    path("drawings/", api.DrawingList.as_view(), name="api_drawing_list"),
    path("drawings/<uuid:pk>/", api.DrawingDetail.as_view(), name="api_drawing"),
    path("drawings/<uuid:pk>/revise/", api.DrawingRevise.as_view(), name="api_drawing_revise"),
    path("drawings/<uuid:pk>/correct/", api.DrawingCorrect.as_view(), name="api_drawing_correct"),
    path("drawings/<uuid:pk>/areas/", api.DrawingAreas.as_view(), name="api_drawing_areas"),
    path("drawing-revisions/<uuid:pk>/image/", api.RevisionImage.as_view(), name="api_drawing_image"),
    path("drawing-revisions/<uuid:pk>/withdraw/", api.RevisionWithdraw.as_view(), name="api_drawing_revision_withdraw"),
    path("drawing-revisions/<uuid:pk>/restore/", api.RevisionRestore.as_view(), name="api_drawing_revision_restore"),
    path("drawing-notes/", note_api.NoteList.as_view(), name="api_drawing_note_list"),
    path("drawing-notes/<uuid:pk>/", note_api.NoteDetail.as_view(), name="api_drawing_note"),
    path("drawing-notes/<uuid:pk>/correct/", note_api.NoteCorrect.as_view(), name="api_drawing_note_correct"),
    path("drawing-notes/<uuid:pk>/show/", note_api.NoteShow.as_view(), name="api_drawing_note_show"),
    path("drawing-notes/<uuid:pk>/withdraw/", note_api.NoteWithdraw.as_view(), name="api_drawing_note_withdraw"),
    path("drawing-notes/<uuid:pk>/restore/", note_api.NoteRestore.as_view(), name="api_drawing_note_restore"),
]
