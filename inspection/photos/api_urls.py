from django.urls import path, register_converter
from django.urls.converters import StringConverter

from inspection.photos import api


class DigestConverter(StringConverter):
    """The SHA-256 of a photo in an address; what is none leads nowhere."""

    regex = r"[0-9a-f]{64}"


register_converter(DigestConverter, "sha256")

urlpatterns = [
    path("photos/", api.PhotoList.as_view(), name="api_photo_list"),
    path("photos/parts/<sha256:digest>/", api.PhotoParts.as_view(), name="api_photo_parts"),
    path("photos/<uuid:pk>/", api.PhotoDetail.as_view(), name="api_photo"),
    path("photos/<uuid:pk>/image/", api.PhotoImage.as_view(), name="api_photo_image"),
    path("photos/<uuid:pk>/change/", api.PhotoChange.as_view(), name="api_photo_change"),
    path("photos/<uuid:pk>/withdraw/", api.PhotoWithdraw.as_view(), name="api_photo_withdraw"),
    path("photos/<uuid:pk>/restore/", api.PhotoRestore.as_view(), name="api_photo_restore"),
    path("photos/<uuid:pk>/mark/", api.PhotoMark.as_view(), name="api_photo_mark"),
]
