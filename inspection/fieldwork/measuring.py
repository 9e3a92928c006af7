"""What is told of a gauge before and while one measures with it, so that doubt is met while it can still be helped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from uuid import UUID

from accounts.models import Person
from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.models import Sheet
from inspection.fieldwork.queries import last_checks
from inspection.foundation.units import Unit, in_unit
from inspection.instruments import doubt
from inspection.instruments.models import Gauge, Verification
from inspection.instruments.site_checks import is_checked
from inspection.instruments.verified_range import BEYOND_PCT, covers
from inspection.projects.models import Project
from inspection.works.belonging import shift_of


def unchecked(gauges: Iterable[Gauge], person: Person, project: Project, at: datetime) -> dict[UUID, str]:
    """By gauge id, that nobody has checked it in the person's shift under way, for each that is to be and is not."""
    gauges = [gauge for gauge in gauges if is_checked(gauge, at)]
    if not gauges:
        return {}
    start, end = shift_of(person.pk, project, at)
    checked = last_checks(gauges, start, end)
    began = f"{start.astimezone(project.zone):%H:%M}"
    return {gauge.pk: f"not checked in the shift that began at {began}" for gauge in gauges if gauge.pk not in checked}


def beside(gauges: Iterable[Gauge], person: Person, project: Project, at: datetime) -> dict[UUID, str]:
    """By gauge id, what stands beside it where a measurement is about to begin: what was reported, no check yet."""
    gauges = list(gauges)
    reported, lacking = doubt.beside(gauges, project.zone), unchecked(gauges, person, project, at)
    told = {pk: [words for words in (reported.get(pk), lacking.get(pk)) if words] for pk in {*reported, *lacking}}
    return {pk: "; ".join(words) for pk, words in told.items()}


def of_sheet(sheet: Sheet, readings: Sequence[ReadingSent], at: datetime) -> list[str]:
    """What stands against the readings of an open sheet: a report, no check before them, a range not checked."""
    gauge, project = sheet.gauge, sheet.project
    told = doubt.sentences([gauge], project.zone)
    kept = [reading for reading in readings if not reading.void_reason]
    first_at = min((reading.taken_at for reading in readings if reading.taken_at), default=None)
    start, _ = shift_of(sheet.person_id, project, first_at or at)
    before = last_checks([gauge], start, first_at or at, ending=True).get(gauge.pk)
    if before is None:
        return [*told, _not_checked(sheet, start, first_at)]
    return [*told, *_outside(before, kept, project)]


def _not_checked(sheet: Sheet, start: datetime, first_at: datetime | None) -> str:
    zone, gauge = sheet.project.zone, sheet.gauge
    if first_at is None:
        began = f"{start.astimezone(zone):%H:%M}"
        return (
            f"{gauge} has not been checked in the shift that began at {began}. Check it first: readings taken before a "
            "check are in question."
        )
    return (
        f"{gauge} was not checked in this shift before the first reading, at {first_at.astimezone(zone):%H:%M}: "
        "these readings are in question. Check it, and begin another sheet."
    )


def _outside(check: Verification, readings: Sequence[ReadingSent], project: Project) -> list[str]:
    """That readings lie outside what the check before them covered; as the gauge showed them."""
    low, high = check.verified_from_nm, check.verified_to_nm
    if low is None or high is None:
        return []
    outside = [reading for reading in readings if not covers(low, high, reading.value_nm)]
    if not outside:
        return []
    unit = Unit(project.unit)
    last = outside[-1]
    told = (
        f"{len(outside)} of {len(readings)} readings, such as {in_unit(last.value_nm, unit)} {unit.label} in spot "
        f"{last.spot}, {'lies' if len(outside) == 1 else 'lie'} more than {BEYOND_PCT} % outside the "
        f"{in_unit(low, unit)} to {in_unit(high, unit)} {unit.label} that the check at "
        f"{check.taken_at.astimezone(project.zone):%H:%M} covered: the record will be in question. Check the gauge on "
        "a shim near that thickness, and measure there on a sheet of its own."
    )
    return [told]
