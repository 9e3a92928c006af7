from django.apps import AppConfig


class ProjectsConfig(AppConfig):
    name = "inspection.projects"
    label = "projects"
    verbose_name = "Projects, structures and coating systems"
