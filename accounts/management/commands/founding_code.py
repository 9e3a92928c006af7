"""manage.py founding_code: a code with which the company can be founded on the site's first page."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from accounts import founding
from accounts.actions import ALREADY_STANDS


class Command(BaseCommand):
    help = "Show a code, good once and for a day, with which the company is founded on the site's first page."

    def handle(self, *args: Any, **options: Any) -> None:
        if not founding.may_be_founded():
            raise CommandError(ALREADY_STANDS)
        self.stdout.write(founding.invitation(founding.new_code()))
