from django.urls import path

from inspection.drawings import note_views, views

urlpatterns = [
    path("projects/<uuid:pk>/drawings/", views.drawing_list, name="drawing_list"),
    path("projects/<uuid:pk>/drawings/new/", views.drawing_new, name="drawing_new"),
    path("drawings/<uuid:pk>/", views.drawing, name="drawing"),
    path("drawings/<uuid:pk>/revise/", views.drawing_revise, name="drawing_revise"),
    path("drawings/<uuid:pk>/correct/", views.drawing_correct, name="drawing_correct"),
    path("drawings/<uuid:pk>/areas/", views.drawing_areas, name="drawing_areas"),
    path("drawings/<uuid:pk>/areas/<uuid:area>/", views.drawing_area_place, name="drawing_area_place"),
    path("drawings/<uuid:pk>/places-fit/", views.drawing_places_fit, name="drawing_places_fit"),
    path("drawing-revisions/<uuid:pk>/", views.drawing_revision, name="drawing_revision"),
    path("drawing-revisions/<uuid:pk>/page.jpg", views.drawing_picture, name="drawing_picture"),
    path("drawing-revisions/<uuid:pk>/file/", views.drawing_file, name="drawing_file"),
    path("drawing-revisions/<uuid:pk>/withdraw/", views.revision_withdraw, name="drawing_revision_withdraw"),
    path("drawing-revisions/<uuid:pk>/restore/", views.revision_restore, name="drawing_revision_restore"),
    path("drawing-revisions/<uuid:pk>/notes/new/", note_views.note_new, name="drawing_note_new"),
    path("drawing-notes/<uuid:pk>/", note_views.note, name="drawing_note"),
    path("drawing-notes/<uuid:pk>/correct/", note_views.note_correct, name="drawing_note_correct"),
    path("drawing-notes/<uuid:pk>/show/", note_views.note_show, name="drawing_note_show"),
    path("drawing-notes/<uuid:pk>/withdraw/", note_views.note_withdraw, name="drawing_note_withdraw"),
    path("drawing-notes/<uuid:pk>/restore/", note_views.note_restore, name="drawing_note_restore"),
]
