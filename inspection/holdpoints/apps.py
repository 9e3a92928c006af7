from django.apps import AppConfig


class HoldpointsConfig(AppConfig):
    name = "inspection.holdpoints"
    label = "holdpoints"
    verbose_name = "Hold points and nonconformances"
