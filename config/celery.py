"""The Celery application. Every task takes an id, loads its row and calls one action."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

app = Celery("stripecoat")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["reports"])
