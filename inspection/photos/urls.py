from django.urls import path

from inspection.photos import views

urlpatterns = [
    path("photos/", views.photo_list, name="photo_list"),
    path("photos/new/<slug:subject>/<uuid:pk>/", views.photo_new, name="photo_new"),
    path("photos/layers/<uuid:pk>/again/", views.photo_layer_again, name="photo_layer_again"),
    path("photos/<uuid:pk>/", views.photo, name="photo"),
    path("photos/<uuid:pk>/page.jpg", views.photo_page, name="photo_page"),
    path("photos/<uuid:pk>/small.jpg", views.photo_small, name="photo_small"),
    path("photos/<uuid:pk>/change/", views.photo_change, name="photo_change"),
    path("photos/<uuid:pk>/mark/", views.photo_mark, name="photo_mark"),
    path("photos/<uuid:pk>/withdraw/", views.photo_withdraw, name="photo_withdraw"),
    path("photos/<uuid:pk>/restore/", views.photo_restore, name="photo_restore"),
    path("photos/<uuid:pk>/position/", views.photo_position, name="photo_position"),
    path("photos/<uuid:pk>/original/", views.photo_original, name="photo_original"),
]
