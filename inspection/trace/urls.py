from django.urls import path

from inspection.trace import lateness_views, views

urlpatterns = [
    path("instruments/gauges/<uuid:pk>/lateness/", lateness_views.gauge_lateness, name="gauge_lateness"),
    path("trace/<slug:kind>/<uuid:pk>/", views.trace_of, name="trace_of"),
    path("trace/<slug:kind>/<uuid:pk>/drawing.svg", views.trace_drawing, name="trace_drawing"),
    path("trace/<slug:kind>/<uuid:pk>/bundle.zip", views.trace_bundle, name="trace_bundle"),
    path("trace/<slug:kind>/<uuid:pk>/<slug:direction>/<slug:other>/", views.trace_all, name="trace_all"),
]
