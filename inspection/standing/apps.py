from django.apps import AppConfig


class StandingConfig(AppConfig):
    name = "inspection.standing"
    label = "standing"
    verbose_name = "Standing of records"
