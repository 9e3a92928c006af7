from django.apps import AppConfig


class DiaryConfig(AppConfig):
    name = "inspection.diary"
    label = "diary"
    verbose_name = "Diary"
