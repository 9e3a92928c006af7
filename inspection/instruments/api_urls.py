from django.urls import path

from inspection.instruments import api

urlpatterns = [
    path("gauges/", api.GaugeList.as_view(), name="api_gauge_list"),
    path("gauges/<uuid:pk>/", api.GaugeDetail.as_view(), name="api_gauge"),
    path("standards/", api.StandardList.as_view(), name="api_standard_list"),
    path("standards/<uuid:pk>/", api.StandardDetail.as_view(), name="api_standard"),
    path("certificates/", api.CertificateList.as_view(), name="api_certificate_list"),
    path("certificates/<uuid:pk>/", api.CertificateDetail.as_view(), name="api_certificate"),
    path("instrument-rules/", api.Rules.as_view(), name="api_instrument_rules"),
    path("verifications/", api.VerificationList.as_view(), name="api_verification_list"),
    path("verifications/<uuid:pk>/", api.VerificationDetail.as_view(), name="api_verification"),
]
