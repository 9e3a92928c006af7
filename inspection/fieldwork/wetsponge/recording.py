"""Storing holiday tests, wet sponge and high voltage: what was set, and each holiday with its place."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from inspection.fieldwork.tested import AsTested
from inspection.fieldwork.wetsponge.models import HolidayTest, WetSpongeRecord
from inspection.foundation.refusals import Fault
from inspection.instruments.models import Gauge
from inspection.standards.holiday_result import speed_doubt
from inspection.standards.units import exact

MOST_HOLIDAYS = 1_000
# Of the specification's film a sponge or electrode sees all; much less than the area is asked about.
JUDGED = (
    "dry_film_um", "standard", "voltage_v", "as_specified", "wetting_agent", "earth_proven", "tested_m2", "most_per_m2",
)  # fmt: skip


def given_of(record: HolidayTest, names: Iterable[str]) -> dict[str, Any]:
    """What the rule takes of a holiday test."""
    sent = record.observed
    return {name: sent[name] for name in names if name in sent} | {"holidays": len(sent.get("holidays", ()))}


def counted(record: HolidayTest) -> None:
    """The columns that lists are asked for."""
    record.tested_m2 = round(Decimal(str(record.observed["tested_m2"])), 2)
    record.holidays = len(record.observed.get("holidays", ()))


def misplaced(record: HolidayTest) -> Iterable[Fault]:
    """Holidays without a place, too many of them, or an area tested that no column holds."""
    holidays = record.observed.get("holidays", [])
    if len(holidays) > MOST_HOLIDAYS:
        yield Fault(f"Give at most {MOST_HOLIDAYS} holidays; above that the film is rejected as a whole.", "holidays")
    for row, hole in enumerate(holidays, start=1):
        if not hole.get("place"):
            yield Fault("Say where the holiday is, so that it is found again.", "holidays", row)
    tested = record.observed.get("tested_m2")
    if not isinstance(tested, int | float) or not 0.005 <= tested <= 9_999_999:
        yield Fault("Give the m² that were tested, above 0.", "tested_m2")


def moved_or_partly_tested(record: HolidayTest) -> Iterable[Fault]:
    """What is asked about: moved too fast, or more m² than the area has."""
    sent = record.observed
    if "speed_m_per_s" in sent and (doubt := speed_doubt(exact(sent["speed_m_per_s"]))):
        yield Fault(doubt, "speed_m_per_s")
    if sent["tested_m2"] > float(record.area.area_m2):
        yield Fault(
            f"{sent['tested_m2']:g} m² were tested of an area of {float(record.area.area_m2):g} m².", "tested_m2"
        )


WET_SPONGE = AsTested(
    model=WetSpongeRecord, title="wet-sponge test", instrument=Gauge.Kind.HOLIDAY,
    given=lambda record: ("holiday-sponge-found", given_of(record, JUDGED)), figures=counted, faults=misplaced,
    doubts=moved_or_partly_tested,
)  # fmt: skip
