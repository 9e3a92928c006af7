"""manage.py files --check: whether every file of record is in the store and still matches its digest."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from accounts import vault
from accounts.models import StoredFile
from accounts.refusals import Refused


class Command(BaseCommand):
    help = "Check the files of record: read each and compare it with its digest. Exits 1 on a mismatch or a gap."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--check", action="store_true", required=True, help="Read and compare every file")

    def handle(self, *args: Any, **options: Any) -> None:
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
