"""manage.py second_factors: write the secrets of second factors with today's key."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from accounts import factors


class Command(BaseCommand):
    help = "After a change of SECRET_KEY, with the earlier one in SECRET_KEY_FALLBACKS: encrypt the secrets again."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(f"{factors.encrypt_again()} secrets are now encrypted with the key in SECRET_KEY.")
