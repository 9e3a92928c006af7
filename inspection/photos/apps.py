from django.apps import AppConfig


class PhotosConfig(AppConfig):
    name = "inspection.photos"
    label = "photos"
    verbose_name = "Photos"
