from django.apps import AppConfig
from django.db.models.signals import post_migrate


class AccountsConfig(AppConfig):
    name = "accounts"
    verbose_name = "People, organisations and the journal"

    def ready(self) -> None:
        # Registers how the schema describes our tokens.
        import accounts.schema  # noqa: F401, PLC0415 - it registers itself, once apps are loaded
        from accounts import checks, receivers  # noqa: F401, PLC0415 - they connect, once models are loaded
        from inspection.foundation.triggers import after_migrations  # noqa: PLC0415 - once apps are loaded

        # Sent once after all migrations of all rooms, and after the tables were emptied.
        post_migrate.connect(after_migrations, sender=self)
