"""Which records a check would put in question, and those that await one, before it is stored.

Standings are kept by a room above this one, which is reached only through what points here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db.models import Max

from accounts.models import Person
from inspection.foundation.refusals import Fault
from inspection.instruments.models import Gauge, Verification
from inspection.projects.models import Project

# No shift is longer than a day; the hour is for the night the clocks go back.
NEAR = timedelta(hours=25)


def _standings() -> Any:
    related: Any = Verification._meta.get_field("closes").related_model
    return related._default_manager.filter(record__replaced_by=None)


def awaiting(gauge: Gauge, at: datetime) -> int:
    """How many records of the gauge still await their check after work: a check now would be that one."""
    waiting = _standings().filter(record__gauge=gauge, state="provisional", due_at__gt=at)
    return int(waiting.filter(record__ended_at__lte=at).count())


def noted(gauge: Gauge, at: datetime) -> Any:
    """Readings noted with the gauge since its last check, on sheets that are no record yet: they await one as well.

    Sheets are kept by a room above, and known here by name alone.
    """
    last = Verification.objects.current().filter(gauge=gauge, taken_at__lt=at).aggregate(at=Max("taken_at"))["at"]
    since = max(last, at - NEAR) if last else at - NEAR
    readings = apps.get_model("fieldwork", "SheetReading")._default_manager.filter(
        sheet__gauge=gauge, sheet__closed_at=None, void_reason=""
    )
    return readings.filter(taken_at__gt=since, taken_at__lte=at)


def resting_near(check: Verification) -> dict[UUID, list[str]]:
    """By record of the same time that is not in question, what is said of it; of the gauge of either version."""
    versions = [check, *([check.replaces] if check.replaces else [])]
    times = [version.taken_at for version in versions]
    near = _standings().filter(
        record__gauge__in={version.gauge_id for version in versions},
        record__ended_at__gte=min(times) - NEAR,
        record__taken_at__lte=max(times) + NEAR,
    )
    return dict(near.exclude(state="in_question").values_list("record", "reasons"))


def by_the_way_it_was_made(check: Verification, resting: Mapping[UUID, Sequence[str]], by: Person) -> list[Fault]:
    """A sentence for each reason for which the check has put records in question, now that they are judged with it.

    A check as found that fails is evidence, and nothing to hesitate about: of it nothing is asked.
    """
    adjusted = check.as_left and check.adjustment != Verification.Adjustment.NONE
    told = _of_sheets(check, by) if adjusted else []
    if not resting or (check.verdict == Verification.Verdict.FAIL and not adjusted):
        return told
    lost = _standings().filter(record__in=list(resting), state="in_question").order_by("record")
    seen = list(lost.filter(record__project__in=Project.objects.visible_to(by)))
    reasons = Counter(
        reason for standing in seen for reason in standing.reasons if reason not in resting[standing.record_id]
    )
    told += [Fault(f"This would put {_many(count)} in question: {reason}") for reason, count in reasons.items()]
    if lost.count() > len(seen):
        told.append(Fault("This would put records of another project in question."))
    return told


def _of_sheets(check: Verification, by: Person) -> list[Fault]:
    """That readings on open sheets will be in question once they are a record; those out of sight are not counted."""
    readings = noted(check.gauge, check.taken_at)
    seen = readings.filter(sheet__project__in=Project.objects.visible_to(by)).count()
    told = []
    if seen:
        many = "1 reading of an open sheet" if seen == 1 else f"{seen} readings of open sheets"
        told.append(
            Fault(f"This would put {many} in question: the check after them would be made after adjusting the gauge.")
        )
    if readings.count() > seen:
        told.append(Fault("This would put readings of an open sheet of another project in question."))
    return told


def _many(count: int) -> str:
    return "1 record" if count == 1 else f"{count} records"
