from django.urls import path, re_path

from inspection.photos import api

urlpatterns = [
    path("photos/", api.PhotoList.as_view(), name="api_photo_list"),
    re_path(r"^photos/parts/(?P<digest>[0-9a-f]{64})/$", api.PhotoParts.as_view(), name="api_photo_parts"),
    path("photos/<uuid:pk>/", api.PhotoDetail.as_view(), name="api_photo"),
    path("photos/<uuid:pk>/image/", api.PhotoImage.as_view(), name="api_photo_image"),
    path("photos/<uuid:pk>/change/", api.PhotoChange.as_view(), name="api_photo_change"),
    path("photos/<uuid:pk>/withdraw/", api.PhotoWithdraw.as_view(), name="api_photo_withdraw"),
    path("photos/<uuid:pk>/restore/", api.PhotoRestore.as_view(), name="api_photo_restore"),
    path("photos/<uuid:pk>/mark/", api.PhotoMark.as_view(), name="api_photo_mark"),
]
