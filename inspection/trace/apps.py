from django.apps import AppConfig


class TraceConfig(AppConfig):
    name = "inspection.trace"
    label = "trace"
    verbose_name = "Trace and recall"
