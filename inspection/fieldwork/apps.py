from django.apps import AppConfig


class FieldworkConfig(AppConfig):
    name = "inspection.fieldwork"
    label = "fieldwork"
    verbose_name = "Field records"

    def ready(self) -> None:
        from inspection.fieldwork import leaving  # noqa: F401, PLC0415 - it listens, once models are loaded
