from django.urls import path

from inspection.fieldapp import api, pack_api

urlpatterns = [
    path("field/who/", api.Who.as_view(), name="api_field_who"),
    path("field/packs/<uuid:project>/", pack_api.FieldPack.as_view(), name="api_field_pack"),
]
