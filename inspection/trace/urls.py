from django.urls import path

from inspection.trace import lateness_views, recall_views, views

urlpatterns = [
    path("trace/", views.trace, name="trace"),
    path("instruments/gauges/<uuid:pk>/lateness/", lateness_views.gauge_lateness, name="gauge_lateness"),
    path("trace/recall/<uuid:pk>/", recall_views.recall, name="recall"),
    path("trace/recall/<uuid:pk>/correct/", recall_views.recall_correct, name="recall_correct"),
    path("trace/recall/<uuid:pk>/reinstate/", recall_views.recall_reinstate, name="recall_reinstate"),
    path("trace/recalls/asked/<uuid:pk>/", recall_views.recall_asked, name="recall_asked"),
    path("trace/recalls/<uuid:pk>/", recall_views.recalled, name="recalled"),
    path("trace/<slug:kind>/<uuid:pk>/", views.trace_of, name="trace_of"),
    path("trace/<slug:kind>/<uuid:pk>/drawing.svg", views.trace_drawing, name="trace_drawing"),
    path("trace/<slug:kind>/<uuid:pk>/bundle.zip", views.trace_bundle, name="trace_bundle"),
    path("trace/<slug:kind>/<uuid:pk>/<slug:direction>/<slug:other>/", views.trace_all, name="trace_all"),
]
