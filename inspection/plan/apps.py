from django.apps import AppConfig


class PlanConfig(AppConfig):
    name = "inspection.plan"
    label = "plan"
    verbose_name = "Inspection and test plans"
