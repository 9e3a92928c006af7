from django.urls import path

from inspection.instruments import api, custody_api, table_api

urlpatterns = [
    path("gauges/", api.GaugeList.as_view(), name="api_gauge_list"),
    path("gauges/<uuid:pk>/", api.GaugeDetail.as_view(), name="api_gauge"),
    path("gauges/<uuid:pk>/incidents/", custody_api.IncidentReport.as_view(), name="api_incident_report"),
    path("gauges/<uuid:pk>/hand-over/", custody_api.GaugeHandOver.as_view(), name="api_gauge_hand_over"),
    path("gauges/<uuid:pk>/receipt/", custody_api.GaugeReceipt.as_view(), name="api_gauge_receipt"),
    path("standards/<uuid:pk>/hand-over/", custody_api.StandardHandOver.as_view(), name="api_standard_hand_over"),
    path("standards/<uuid:pk>/receipt/", custody_api.StandardReceipt.as_view(), name="api_standard_receipt"),
    path("standards/", api.StandardList.as_view(), name="api_standard_list"),
    path("standards/<uuid:pk>/", api.StandardDetail.as_view(), name="api_standard"),
    path("certificates/", api.CertificateList.as_view(), name="api_certificate_list"),
    path("certificates/files/", table_api.CertificateFiles.as_view(), name="api_certificate_table"),
    path("certificates/<uuid:pk>/", api.CertificateDetail.as_view(), name="api_certificate"),
    path("instrument-rules/", api.Rules.as_view(), name="api_instrument_rules"),
    path("verifications/", api.VerificationList.as_view(), name="api_verification_list"),
    path("verifications/<uuid:pk>/", api.VerificationDetail.as_view(), name="api_verification"),
]
