from django.apps import AppConfig


class ReportsConfig(AppConfig):
    name = "reports"
    verbose_name = "Reports, reminders and jobs"

    def ready(self) -> None:
        from reports.daily.traced import register_reports  # noqa: PLC0415 - models are not loaded before

        register_reports()

        from reports.attention import receivers  # noqa: F401, PLC0415 - they connect, once models are loaded
        from reports.daily import project_changes  # noqa: F401, PLC0415 - as above
