from django.apps import AppConfig


class NonconformanceConfig(AppConfig):
    name = "inspection.nonconformance"
    label = "nonconformance"
    verbose_name = "Nonconformances"

    def ready(self) -> None:
        from inspection.nonconformance import area_changes, carried, leaving  # noqa: F401, PLC0415 - they listen, once models are loaded
