from django.apps import AppConfig


class InstrumentsConfig(AppConfig):
    name = "inspection.instruments"
    label = "instruments"
    verbose_name = "Instruments, certificates and verifications"

    def ready(self) -> None:
        from inspection.instruments import leaving, signals  # noqa: F401, PLC0415 - they listen, once models are loaded

        signals.connect_listeners()
