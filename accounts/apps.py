from django.apps import AppConfig


class AccountsConfig(AppConfig):
    name = "accounts"
    verbose_name = "People, organisations and the journal"

    def ready(self) -> None:
        # Registers how the schema describes our tokens.
        import accounts.schema  # noqa: F401, PLC0415 - it registers itself, once apps are loaded
        from accounts import receivers  # noqa: F401, PLC0415 - they connect, once models are loaded
