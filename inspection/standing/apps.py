from django.apps import AppConfig


class StandingConfig(AppConfig):
    name = "inspection.standing"
    label = "standing"
    verbose_name = "Standing of records"

    def ready(self) -> None:
        from inspection.standing import receivers  # noqa: F401, PLC0415 - they connect, once models are loaded
