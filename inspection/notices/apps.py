from django.apps import AppConfig


class NoticesConfig(AppConfig):
    name = "inspection.notices"
    label = "notices"
    verbose_name = "Inspection notices"

    def ready(self) -> None:
        from inspection.notices import changes, landing  # noqa: F401, PLC0415 - they listen, once models are loaded
