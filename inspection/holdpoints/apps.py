from django.apps import AppConfig


class HoldpointsConfig(AppConfig):
    name = "inspection.holdpoints"
    label = "holdpoints"
    verbose_name = "Hold points"

    def ready(self) -> None:
        from inspection.holdpoints import leaving  # noqa: F401, PLC0415 - it listens, once models are loaded
