from django.apps import AppConfig


class InstrumentsConfig(AppConfig):
    name = "inspection.instruments"
    label = "instruments"
    verbose_name = "Instruments, certificates and verifications"
