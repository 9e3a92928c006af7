from django.apps import AppConfig


class ProjectsConfig(AppConfig):
    name = "inspection.projects"
    label = "projects"
    verbose_name = "Projects, structures and coating systems"

    def ready(self) -> None:
        from inspection.projects import receivers  # noqa: F401, PLC0415 - they connect, once models are loaded
