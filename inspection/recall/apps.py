from django.apps import AppConfig


class RecallConfig(AppConfig):
    name = "inspection.recall"
    label = "recall"
    verbose_name = "Recall of certificates and batches of paint"
