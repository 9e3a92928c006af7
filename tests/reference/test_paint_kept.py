"""Shelf life, whole kits and ratios of paint on site: worked by hand and by the practice of the trade."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from inspection.projects.models import DataSheet, Project
from inspection.projects.sheets import parts_of
from inspection.works.models import BatchStep, PaintBatch
from inspection.works.paint.fitness import fitness
from inspection.works.paint.reckoning import PartSent, reckon

# Common practice, no source: paint is used through the last day of its shelf life, on the calendar of the site
# Only its maker extends it, in writing; an extension does not reach back before the letter.
EXPIRES = date(2026, 5, 31)


def batch(component: str = "base", received: int = 160, unit: str = "l", zone: str = "UTC") -> PaintBatch:
    return PaintBatch(
        project=Project(code="P", time_zone=zone), product="Paint", component=component, number="K-1",
        received=Decimal(received), unit=unit, containers=10, expires_on=EXPIRES,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("zone", "moment", "fit"),
    [
        ("UTC", "2026-05-31T23:59", True),
        ("UTC", "2026-06-01T00:00", False),
        ("Pacific/Auckland", "2026-05-31T12:00", False),  # already the first of June there
        ("America/Los_Angeles", "2026-06-01T06:59", True),  # still the last of May there
    ],
)
def test_paint_is_used_through_the_day_of_its_expiry_on_the_calendar_of_the_site(
    zone: str, moment: str, fit: bool
) -> None:
    at = datetime.fromisoformat(moment).replace(tzinfo=UTC)
    assert fitness(batch(zone=zone), at, []).is_fit is fit


@pytest.mark.parametrize(("day", "fit"), [(4, False), (5, True), (30, True)])
def test_an_extension_counts_from_the_day_of_the_makers_letter(day: int, fit: bool) -> None:
    of = batch()
    letter = BatchStep(
        batch=of, what="extended", dated=date(2026, 6, 5), expires_on=date(2026, 6, 30),
        at=datetime(2026, 6, 9, tzinfo=UTC),
    )  # fmt: skip
    assert fitness(of, datetime(2026, 6, day, 12, tzinfo=UTC), [letter]).is_fit is fit


# Arithmetic of mixing (common practice, no source): 4:1 by volume with densities 1.5 and 0.95 kg/l is 6.316:1 by mass,
# so 32 kg to 8 kg, weighed as if the 4:1 were by mass, holds 8/0.95 l of hardener to 32/1.5 l of base: 57.9 % too much.
@pytest.mark.parametrize(
    ("base", "hardener", "deviation"),
    [("32", "8", "0.0"), ("15.5", "4", "3.2"), ("21.333", "8.421", "57.9"), ("20", "4", "-20.0")],
)
def test_how_far_the_hardener_lies_from_four_to_one(base: str, hardener: str, deviation: str) -> None:
    sheet = DataSheet(product="Paint", revision="1", mixing_by_volume="4:1")
    sheet._prefetched_objects_cache = {"rows": DataSheet.objects.none()}  # type: ignore[attr-defined]  # no database here
    parts = [PartSent(batch(), amount=Decimal(base)), PartSent(batch("hardener", 40), amount=Decimal(hardener))]
    found = reckon(parts, sheet=sheet, mixed_at=datetime(2026, 5, 1, tzinfo=UTC), paint_c=None)
    assert found.deviation_pct == Decimal(deviation)
    assert bool(found.questions) == (abs(Decimal(deviation)) > 10)


def test_whole_containers_are_shares_of_what_was_received() -> None:
    assert PartSent(batch(), containers=2).used == 32
    assert PartSent(batch(received=100), containers=3).used == Decimal(30)


@pytest.mark.parametrize(
    ("written", "parts"),
    [
        ("4:1", (4, 1)), ("100 : 12,5", (100, Decimal("12.5"))), ("3:1:0.5", (3, 1, Decimal("0.5"))),
        ("4 to 1", None), ("4:0", None), ("4", None), ("−4:1", None),
    ],
)  # fmt: skip
def test_a_ratio_is_read_as_a_data_sheet_writes_it(written: str, parts: object) -> None:
    assert parts_of(written) == parts
