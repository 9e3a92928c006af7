"""manage.py journal: whether every entry still matches its digest; chaining leftovers; a new key for the chain."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from accounts import chain, keys
from accounts.journal import altered
from accounts.models import JournalEntry


class Command(BaseCommand):
    help = "Check the journal: recompute the digest of every entry from its content, and exit 1 on a mismatch."

    def add_arguments(self, parser: ArgumentParser) -> None:
        what = parser.add_mutually_exclusive_group(required=True)
        what.add_argument("--check", action="store_true", help="Recompute and compare every digest")
        what.add_argument("--chain", action="store_true", help="Chain what was left unchained, and tell the head")
        what.add_argument("--new-key", action="store_true", help="Chain from now on with a new key; keep the old ones")

    def handle(self, *args: Any, new_key: bool, **options: Any) -> None:
        if options["chain"]:
            self.stdout.write(f"{chain.link(everything=True)} entries were chained; {chain.head() or 'none yet'}")
        elif new_key:
            self.stdout.write(f"From now on links are made with key {keys.renew_chain_key()}. Back up the keys.")
        else:
            self.check_all()

    def check_all(self) -> None:
        read = wrong = 0
        for entry in JournalEntry.objects.order_by("pk").iterator(chunk_size=2_000):
            read += 1
            if altered(entry):
                wrong += 1
                self.stderr.write(f"entry {entry.pk} ({entry}) does not match its digest {entry.digest[:12]}…")
        if wrong:
            raise CommandError(f"{wrong} of {read} entries do not match their digests.")
        self.stdout.write(f"All {read} entries match their digests.")
