from django.urls import path

from inspection.fieldapp import views

urlpatterns = [
    path("field/", views.field_app, name="field-app"),
    path("field/worker.js", views.field_worker, name="field-worker"),
    path("field/manifest.webmanifest", views.field_manifest, name="field-manifest"),
]
