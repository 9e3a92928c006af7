from django.apps import AppConfig


class FieldAppConfig(AppConfig):
    name = "inspection.fieldapp"
    label = "fieldapp"
    verbose_name = "Field app"
