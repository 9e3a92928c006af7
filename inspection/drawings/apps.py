from django.apps import AppConfig


class DrawingsConfig(AppConfig):
    name = "inspection.drawings"
    label = "drawings"
    verbose_name = "Drawings"
