"""`manage.py standing --check`: compute every standing again from facts and report each that is stored otherwise."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from inspection.fieldwork.models import ThicknessRecord
from inspection.standing.actions import is_as_stored, refresh
from inspection.standing.judgement import Judgement
from inspection.standing.models import Standing
from inspection.standing.queries import batches, compute

# A provisional record whose shift has just ended may still wait for the sweep.
SWEEP_MAY_TAKE = timedelta(minutes=10)


class Command(BaseCommand):
    help = "Compute the standing of every record from facts. --check only compares, and exits 1 on a difference."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--check", action="store_true", help="report differences and change nothing")

    def handle(self, *args: Any, **options: Any) -> None:
        ids = list(ThicknessRecord.objects.order_by("gauge", "first_reading_at").values_list("pk", flat=True))
        if options["check"]:
            self._check(ids)
        else:
            changed = refresh(records=ids, because="Computed again from facts.")
            self.stdout.write(f"{len(ids)} records, {len(changed)} standings changed.")

    def _check(self, ids: list[UUID]) -> None:
        wrong = 0
        for record, stored, judgement in differences(ids, timezone.now()):
            wrong += 1
            was = stored.state if stored else "nothing"
            self.stdout.write(f"{record}: stored {was}, from facts {judgement.state}: {' '.join(judgement.reasons)}")
        self.stdout.write(f"{len(ids)} records, {wrong} stored otherwise than the facts say.")
        if wrong:
            raise SystemExit(1)


def differences(ids: list[UUID], at: datetime) -> Iterator[tuple[UUID, Standing | None, Judgement]]:
    for batch in batches(ids):
        stored = Standing.objects.in_bulk(list(batch))
        wrong = {
            pk: judgement for pk, judgement in compute(batch, at).items() if not is_as_stored(stored.get(pk), judgement)
        }
        earlier = compute(wrong, at - SWEEP_MAY_TAKE)
        for pk, judgement in wrong.items():
            if not is_as_stored(stored.get(pk), earlier[pk]):
                yield pk, stored.get(pk), judgement
