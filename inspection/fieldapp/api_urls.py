from django.urls import path

from inspection.fieldapp import api

urlpatterns = [
    path("field/who/", api.Who.as_view(), name="api_field_who"),
]
