from django.apps import AppConfig


class HoldpointsConfig(AppConfig):
    name = "inspection.holdpoints"
    label = "holdpoints"
    verbose_name = "Hold points"

    def ready(self) -> None:
        from inspection.holdpoints import area_changes, coat_changes, kept_places, leaving  # noqa: F401, PLC0415 - they listen, once models are loaded
