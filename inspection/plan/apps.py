from django.apps import AppConfig


class PlanConfig(AppConfig):
    name = "inspection.plan"
    label = "plan"
    verbose_name = "Inspection and test plans"

    def ready(self) -> None:
        from inspection.plan import party_changes  # noqa: F401, PLC0415 - it listens, once models are loaded
