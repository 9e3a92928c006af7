"""`manage.py standing`: compute every standing again from facts, and with it whether released points are in doubt.

After an upgrade that changed a rule, what is stored may differ; putting it right tells people as any change does.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandParser
from django.db import transaction
from django.utils import timezone

from inspection.fieldwork import latest
from inspection.holdpoints.actions import put_doubts_right, put_passing_right
from inspection.holdpoints.actions.keeping import chains_kept_otherwise
from inspection.holdpoints.actions.passing_over import passed_otherwise
from inspection.holdpoints.ground import further_kept_otherwise, lies_otherwise, wrongly_marked
from inspection.holdpoints.models import HoldPoint
from inspection.notices.actions import put_notified_right
from inspection.notices.actions.keeping import notified_otherwise
from inspection.standing.actions import is_as_stored, put_right
from inspection.standing.judgement import Judgement
from inspection.standing.models import Standing
from inspection.standing.queries import batches, compute, relied_on

# A provisional record whose shift has just ended may still wait for the sweep.
SWEEP_MAY_TAKE = timedelta(minutes=10)


BECAUSE = "Computed again from the facts."


class Command(BaseCommand):
    help = (
        "Put every standing and every doubted point right by the facts. --check only compares; exits 1 on a difference."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--check", action="store_true", help="report differences and change nothing")

    def handle(self, *args: Any, **options: Any) -> None:
        ids = list(relied_on().order_by("gauge", "taken_at").values_list("pk", flat=True))
        if options["check"]:
            self._check(ids)
        else:
            self._put_right(ids)

    @transaction.atomic
    def _put_right(self, ids: list[UUID]) -> None:
        latest.put_right()
        changed = put_right(ids, because=BECAUSE)
        put_passing_right()
        put_notified_right()
        # Points that an earlier repair of their records forgot.
        marked = put_doubts_right(because=BECAUSE)
        self.stdout.write(f"{len(ids)} records, {len(changed)} standings changed; {marked} further points were marked.")

    def _check(self, ids: list[UUID]) -> None:
        wrong = 0
        for record, stored, judgement in differences(ids, timezone.now()):
            wrong += 1
            was = stored.state if stored else "nothing"
            self.stdout.write(f"{record}: stored {was}, from facts {judgement.state}: {' '.join(judgement.reasons)}")
        places = 0
        for place, kept, said in latest.differences():
            places += 1
            self.stdout.write(f"{place.kind} of area {place.area}, coat {place.coat}: {kept} stands, from facts {said}")
        otherwise = list(further_kept_otherwise(HoldPoint.objects.all()))
        for row in otherwise:
            self.stdout.write(f"{row.pk}: what the point requires is kept as {row.further}, from facts {row.said}")
        elsewhere = list(lies_otherwise(HoldPoint.objects.all()))
        for row in elsewhere:
            now, wanted = (HoldPoint.Lies(number).label for number in (row.lies, row.said))
            self.stdout.write(f"{row.pk}: the point is kept as “{now}”, from facts “{wanted}”")
        passed = list(passed_otherwise(HoldPoint.objects.all()))
        for row in passed:
            self.stdout.write(
                f"{row.pk}: the point is kept as passed over {row.passed_over_at}, from facts {row.passed_by}"
            )
        called = list(notified_otherwise())
        for row in called:
            self.stdout.write(
                f"{row.pk}: the point is kept as notified for {row.notified_for}, from notices {row.called}"
            )
        chains = list(chains_kept_otherwise(HoldPoint.objects.all()))
        for row, is_broken in chains:
            words = "not met since its release, not kept so" if is_broken else "kept as not met since, and is not"
            self.stdout.write(f"{row.pk}: the chain of the released point is {words}")
        points = wrongly_marked()
        for point in points.select_related("project"):
            words = "in doubt, not marked so" if point.doubted_at is None else "marked as in doubt, and is not"
            self.stdout.write(f"{point.pk}: released point of {point.project.code} {words}")
        self.stdout.write(
            f"{len(ids)} records, {wrong} stored otherwise than the facts say; {len(points)} released points wrongly "
            f"marked; {places} places at which another record stands."
        )
        if wrong or points or places or otherwise or elsewhere or passed or called or chains:
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
