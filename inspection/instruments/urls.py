from django.urls import path

from inspection.instruments.views import certificates, company_rules, equipment, verifications

GAUGE, STANDARD = {"kind": "gauge"}, {"kind": "standard"}

urlpatterns = [
    path("i/<path:identity>", equipment.equipment_by_identity, name="equipment_by_identity"),
    path("instruments/", equipment.equipment, name="equipment"),
    path("instruments/labels/", equipment.labels, name="labels"),
    path("instruments/rules/", company_rules.instrument_rules, name="instrument_rules"),
    path("instruments/gauges/new/", equipment.gauge_new, name="gauge_new"),
    path("instruments/gauges/<uuid:pk>/", equipment.gauge, name="gauge"),
    path("instruments/gauges/<uuid:pk>/errors.svg", equipment.gauge_chart, name="gauge_chart"),
    path("instruments/gauges/<uuid:pk>/hand-over/", equipment.hand_over, GAUGE, name="gauge_hand_over"),
    path("instruments/gauges/<uuid:pk>/confirm/", equipment.confirm_custody, GAUGE, name="gauge_confirm"),
    path("instruments/gauges/<uuid:pk>/state/", equipment.equipment_state, GAUGE, name="gauge_state"),
    path("instruments/gauges/<uuid:pk>/correct/", equipment.equipment_correct, GAUGE, name="gauge_correct"),
    path("instruments/gauges/<uuid:pk>/checks/", equipment.gauge_checks, name="gauge_checks"),
    path("instruments/gauges/<uuid:pk>/incidents/new/", equipment.incident_new, name="incident_new"),
    path("instruments/standards/new/", equipment.standard_new, name="standard_new"),
    path("instruments/standards/<uuid:pk>/", equipment.standard, name="standard"),
    path("instruments/standards/<uuid:pk>/hand-over/", equipment.hand_over, STANDARD, name="standard_hand_over"),
    path("instruments/standards/<uuid:pk>/confirm/", equipment.confirm_custody, STANDARD, name="standard_confirm"),
    path("instruments/standards/<uuid:pk>/correct/", equipment.equipment_correct, STANDARD, name="standard_correct"),
    path("instruments/standards/<uuid:pk>/state/", equipment.equipment_state, STANDARD, name="standard_state"),
    path("instruments/certificates/", certificates.certificate_list, name="certificate_list"),
    path("instruments/certificates/new/", certificates.certificate_new, name="certificate_new"),
    path("instruments/certificates/upload/", certificates.certificate_upload, name="certificate_upload"),
    path("instruments/certificates/<uuid:pk>/", certificates.certificate, name="certificate"),
    path("instruments/certificates/<uuid:pk>/file/", certificates.certificate_file, name="certificate_file"),
    path("instruments/certificates/<uuid:pk>/correct/", certificates.certificate_correct, name="certificate_correct"),
    path("instruments/verifications/", verifications.verification_list, name="verification_list"),
    path("instruments/verifications/new/", verifications.verification_new, name="verification_new"),
    path("instruments/verifications/<uuid:pk>/", verifications.verification, name="verification"),
]
