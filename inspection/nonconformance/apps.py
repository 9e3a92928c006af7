from django.apps import AppConfig


class NonconformanceConfig(AppConfig):
    name = "inspection.nonconformance"
    label = "nonconformance"
    verbose_name = "Nonconformances"

    def ready(self) -> None:
        from inspection.nonconformance import leaving  # noqa: F401, PLC0415 - it listens, once models are loaded
