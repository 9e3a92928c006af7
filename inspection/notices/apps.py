from django.apps import AppConfig


class NoticesConfig(AppConfig):
    name = "inspection.notices"
    label = "notices"
    verbose_name = "Inspection notices"
