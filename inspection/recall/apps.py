from django.apps import AppConfig


class RecallConfig(AppConfig):
    name = "inspection.recall"
    label = "recall"
    verbose_name = "Recall of certificates and batches of paint"

    def ready(self) -> None:
        # Connects the receivers.
        from inspection.recall import batch_actions  # noqa: F401, PLC0415 - models are not loaded before
