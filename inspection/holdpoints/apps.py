from django.apps import AppConfig


class HoldpointsConfig(AppConfig):
    name = "inspection.holdpoints"
    label = "holdpoints"
    verbose_name = "Hold points and nonconformances"

    def ready(self) -> None:
        from inspection.holdpoints import leaving, receivers  # noqa: F401, PLC0415 - they connect, once models are loaded
