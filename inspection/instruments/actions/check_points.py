"""The points of a check as they are sent, and what is wrong with one."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from inspection.foundation.units import MOST_NM
from inspection.instruments.models import Equipment, Gauge, ReferenceStandard
from inspection.instruments.site_checks import SiteCheck, kinds_told

MOST_POINTS = 20
MOST_READINGS = 100
MOST_IN_A_STACK = 5
# On a zero plate a gauge may well show a little less than nothing.
LEAST_NM = -1_000_000
# Beyond any instrument of ours that reads no thickness, in its unit.
MOST, LEAST = Decimal(100_000), Decimal(-1000)
PLACES = 3


@dataclass(frozen=True)
class PointSent:
    """One standard, or a stack of them from the bottom up, and the readings on it in the order taken.

    Of thickness in nm; else `readings` in the unit of the instrument's kind, and as `reference` what the reference
    instrument showed, where it is one.
    """

    standards: list[ReferenceStandard]
    readings_nm: list[int] = field(default_factory=list)
    readings: list[Decimal] = field(default_factory=list)
    reference: Decimal | None = None


def point_faults(point: PointSent, check: SiteCheck, at: datetime) -> list[str]:
    found = [words for standard in point.standards if (words := out_of_use(standard, at))]
    if any(standard.kind not in check.on for standard in point.standards):
        found.append(f"A {check.kind.label.lower()} is checked on a {kinds_told(check.on)}, and on nothing else.")
    if not check.of_thickness:
        return found + _compared_faults(point, check)
    if point.readings or point.reference is not None:
        found.append("Readings of thickness are sent as such.")
    if not 1 <= len(point.standards) <= MOST_IN_A_STACK:
        found.append(f"Name 1 to {MOST_IN_A_STACK} standards.")
    if len(set(point.standards)) < len(point.standards):
        found.append("A standard lies in a stack only once.")
    if not 1 <= len(point.readings_nm) <= MOST_READINGS:
        found.append(f"Give 1 to {MOST_READINGS} readings.")
    if any(not LEAST_NM <= reading <= MOST_NM for reading in point.readings_nm):
        found.append(f"A reading is at most {MOST_NM // 1_000_000} mm; check the unit.")
    return found


def _compared_faults(point: PointSent, check: SiteCheck) -> list[str]:
    """What is wrong with a point of an instrument that reads no thickness."""
    found = []
    if len(point.standards) != 1:
        found.append("Name the one standard it was compared with.")
    if point.readings_nm:
        found.append(f"Give its readings in {check.unit}, not as thickness.")
    if not 1 <= len(point.readings) <= MOST_READINGS:
        found.append(f"Give 1 to {MOST_READINGS} readings, in {check.unit}.")
    if check.by_reference_read == (point.reference is None):
        found.append(
            f"Give what the reference instrument showed, in {check.unit}."
            if check.by_reference_read
            else "The certificate of the standard says what it is; give no reference."
        )
    numbers = [*point.readings, *([] if point.reference is None else [point.reference])]
    if any(not number.is_finite() or not LEAST <= number <= MOST for number in numbers):
        found.append(f"A reading lies between {LEAST} and {MOST} {check.unit}; check the unit.")
    elif any(number != round(number, PLACES) for number in numbers):
        found.append(f"Give at most {PLACES} decimals.")
    return found


def out_of_use(thing: Gauge | ReferenceStandard, at: datetime) -> str:
    """Why a thing was not to be used at the moment, by its state, in the moment's own zone; empty when it was."""
    if thing.state == Equipment.State.IN_SERVICE or at < thing.state_since:
        return ""
    since = thing.state_since.astimezone(at.tzinfo)
    return f"{thing} is {thing.get_state_display().lower()} since {since:%Y-%m-%d %H:%M %Z}."
