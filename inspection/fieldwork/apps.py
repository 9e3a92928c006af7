from django.apps import AppConfig


class FieldworkConfig(AppConfig):
    name = "inspection.fieldwork"
    label = "fieldwork"
    verbose_name = "Field records"
