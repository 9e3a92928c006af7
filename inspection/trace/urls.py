from django.urls import path

from inspection.trace import views

urlpatterns = [
    path("trace/", views.trace, name="trace"),
    path("trace/<slug:kind>/<uuid:pk>/", views.trace_of, name="trace_of"),
    path("trace/<slug:kind>/<uuid:pk>/drawing.svg", views.trace_drawing, name="trace_drawing"),
    path("trace/<slug:kind>/<uuid:pk>/<slug:direction>/<slug:other>/", views.trace_all, name="trace_all"),
]
