"""manage.py journal --check: whether every entry of the journal still matches its digest."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from accounts.journal import altered
from accounts.models import JournalEntry


class Command(BaseCommand):
    help = "Check the journal: recompute the digest of every entry from its content. Exits 1 on a mismatch."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--check", action="store_true", required=True, help="Recompute and compare every digest")

    def handle(self, *args: Any, **options: Any) -> None:
        read = wrong = 0
        for entry in JournalEntry.objects.order_by("pk").iterator(chunk_size=2_000):
            read += 1
            if altered(entry):
                wrong += 1
                self.stderr.write(f"entry {entry.pk} ({entry}) does not match its digest {entry.digest[:12]}…")
        if wrong:
            raise CommandError(f"{wrong} of {read} entries do not match their digests.")
        self.stdout.write(f"All {read} entries match their digests.")
