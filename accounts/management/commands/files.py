"""manage.py files: whether every file of record is in the store and matches its digest; clearing up after a kill."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from accounts import vault
from accounts.models import StoredFile
from inspection.foundation.refusals import Refused


class Command(BaseCommand):
    help = "Check the files of record: read each and compare it with its digest. Exits 1 on a mismatch or a gap."

    def add_arguments(self, parser: ArgumentParser) -> None:
        what = parser.add_mutually_exclusive_group(required=True)
        what.add_argument("--check", action="store_true", help="Read and compare every file")
        what.add_argument("--clear", action="store_true", help="Remove what killed processes left half-written")

    def handle(self, *args: Any, clear: bool, **options: Any) -> None:
        if clear:
            self.stdout.write(f"{vault.clear_leftovers(timezone.now())} unfinished files were removed.")
        else:
            self.check_all()

    def check_all(self) -> None:
        read = wrong = 0
        for file in StoredFile.objects.order_by("pk").iterator(chunk_size=500):
            read += 1
            try:
                vault.content_of(file)
            except Refused as refusal:
                wrong += 1
                self.stderr.write(str(refusal))
        if wrong:
            raise CommandError(f"{wrong} of {read} files are missing or altered.")
        self.stdout.write(f"All {read} files match their digests.")
