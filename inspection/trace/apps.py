from django.apps import AppConfig


class TraceConfig(AppConfig):
    name = "inspection.trace"
    label = "trace"
    verbose_name = "Trace"

    def ready(self) -> None:
        from inspection.trace.known_kinds import register_evidence  # noqa: PLC0415 - models are not loaded before

        register_evidence()
