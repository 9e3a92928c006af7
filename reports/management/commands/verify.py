"""manage.py verify: whether anything was changed behind the platform's back. Exits 1 when anything was."""

from __future__ import annotations

from argparse import ArgumentParser, ArgumentTypeError
from typing import Any

from django.core.management.base import BaseCommand

from accounts.chain import Head, heads_in
from reports.verify import differences


def _head(text: str) -> Head:
    found = next(heads_in(f"journal head {text.removeprefix('journal head ')}"), None)
    if found is None:
        raise ArgumentTypeError("give a head as letters and papers carry it: 123:0f3a… with all 64 letters")
    return found


class Command(BaseCommand):
    help = (
        "Compute digests and verdicts again from what is stored, compare the journal with its chain and with the "
        "tables, files with their digests, and look for every trigger. Names each difference; exits 1 on any."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--head", type=_head, action="append", default=[], metavar="NUMBER:CODE",
            help="A head of the journal from a letter or an issued paper in your hands; may be given several times",
        )  # fmt: skip

    def handle(self, *args: Any, head: list[Head], **options: Any) -> None:
        found = 0
        for words in differences(head):
            found += 1
            self.stdout.write(words)
        self.stdout.write(f"{found} differences." if found else "Nothing differs from what was recorded.")
        if found:
            raise SystemExit(1)
