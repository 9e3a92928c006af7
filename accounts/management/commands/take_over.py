"""manage.py take_over: a restored copy becomes the site, and its letters go out from then on."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from accounts.installation import is_the_site, take_over
from accounts.models import Letter


class Command(BaseCommand):
    help = "Say that this restored copy is the site from now on: until then it writes to nobody."

    def add_arguments(self, parser: ArgumentParser) -> None:
        what = parser.add_mutually_exclusive_group()
        what.add_argument("--send-letters", action="store_true", help="Send the letters that wait")
        what.add_argument("--set-letters-aside", metavar="REASON", default="", help="Never send those that wait")

    def handle(self, *args: Any, send_letters: bool, set_letters_aside: str, **options: Any) -> None:
        if is_the_site():
            self.stdout.write("This is the site already; nothing was changed.")
            return
        waiting = Letter.objects.waiting().count()
        if waiting and not (send_letters or set_letters_aside):
            raise CommandError(
                f"{waiting} letters wait, which the site that was copied may have sent since. Say --send-letters, or "
                "--set-letters-aside with the reason."
            )
        left = take_over(letters_aside=set_letters_aside)
        self.stdout.write(f"This is the site from now on; {left} letters go out with the next sweep.")
