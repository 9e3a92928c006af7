from django.apps import AppConfig


class TraceConfig(AppConfig):
    name = "inspection.trace"
    label = "trace"
    verbose_name = "Trace"

    def ready(self) -> None:
        from inspection.trace.diary_kinds import register_diary  # noqa: PLC0415 - models are not loaded before
        from inspection.trace.known_kinds import register_evidence  # noqa: PLC0415 - as above

        register_evidence()
        register_diary()
