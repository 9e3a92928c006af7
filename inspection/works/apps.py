from django.apps import AppConfig


class WorksConfig(AppConfig):
    name = "inspection.works"
    label = "works"
    verbose_name = "Crews and shifts"
