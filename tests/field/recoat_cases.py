"""Generated recoat windows that open or close at the very moment asked, cannot be read, or reach beyond the stated."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from random import Random
from types import SimpleNamespace
from typing import Any, cast

from inspection.projects.models import DataSheetRow
from inspection.standards.recoat_clock import Clock
from inspection.works.climate_told import ClimateTold
from inspection.works.lots import windows
from tests.field.comparing import Case

MOMENTS = 5
STARTED = datetime(2026, 5, 31, 8, tzinfo=UTC)


TOLD = ("temperature_c", "recoat_min_hours", "recoat_max_hours")


def recoats(seed: int, count: int) -> Iterator[Case]:
    """Windows that open and close at the very moment asked, that cannot be read, that are beyond the stated."""
    rnd = Random(seed)
    coat, following = SimpleNamespace(recoat_rows=[]), SimpleNamespace(product="Second 40")
    for _ in range(count // MOMENTS):
        rows = _rows(rnd)
        coat.recoat_rows = rows
        ends = [STARTED + timedelta(hours=rnd.randrange(3), microseconds=rnd.choice((0, 0, 1, 500_000)))
                for _ in range(rnd.choice((1, 1, 2)))]  # fmt: skip
        steel = [
            (min(ends) + timedelta(minutes=rnd.choice((-240, -241, rnd.randrange(-300, 1500)))),
             Decimal(rnd.choice((50, 100, 150, 200, 51, rnd.randrange(0, 260)))) / 10)
            for _ in range(rnd.choice((0, 1, 2, 3)))
        ]  # fmt: skip
        named = windows.rows_for(coat, following)
        told = [_told(row) for row in named]
        sheet = [{**_told(row), "next_product": row.next_product} for row in rows]
        chosen = [{**row, "next_product": each.next_product} for row, each in zip(told, named, strict=True)]
        yield Case("rowsFor", [sheet, following.product], chosen, many=0)
        given = [told, [_iso(end) for end in ends], [{"at": _iso(when), "steel_c": str(c)} for when, c in steel]]
        at = max(ends) + timedelta(hours=rnd.randrange(60))
        for _ in range(MOMENTS):
            found = _window(coat, following, ends, steel, at)
            yield Case("recoatWindow", [*given, _iso(at)], {
                "state": found.state, "opens_at": _iso(found.opens_at), "closes_at": _iso(found.closes_at),
                "notes": list(found.notes),
            })  # fmt: skip
            ends_told = {"opens_at": _iso(found.opens_at), "closes_at": _iso(found.closes_at)}
            yield Case("windowState", [ends_told, _iso(at)], found.state, many=0)
            at = _edge(rnd, found, ends)


def _told(row: DataSheetRow) -> dict[str, str | None]:
    return {name: _text(getattr(row, name)) for name in TOLD}


def _rows(rnd: Random) -> list[DataSheetRow]:
    if rnd.random() < 0.1:
        return [DataSheetRow(recoat_min_hours=Decimal("6.0"), recoat_max_hours=rnd.choice((None, Decimal(48))))]
    hours = {"5": ("24.0", "96"), "10": ("16.0", "72.0"), "20": ("8.3", "48"), "25": ("5", "24.5")}
    chosen = sorted(rnd.sample(list(hours), rnd.choice((1, 2, 2, 3))), key=Decimal)
    if rnd.random() < 0.03:
        chosen.append(rnd.choice(chosen))
    named = rnd.choice(("", "", "", "second 40", "other"))
    return [
        DataSheetRow(
            temperature_c=Decimal(warmth), next_product=named,
            recoat_min_hours=None if rnd.random() < 0.04 else Decimal(hours[warmth if rnd.random() < 0.98 else "5"][0]),
            recoat_max_hours=None if rnd.random() < 0.2 else Decimal(hours[warmth][1]),
        )
        for warmth in chosen
    ]  # fmt: skip


def _edge(rnd: Random, found: Clock, ends: list[datetime]) -> datetime:
    """A moment at or beside the opening, the closing or the last hours of a window; any where it has none."""
    moments = [moment for moment in (found.opens_at, found.closes_at) if moment]
    if not moments or rnd.random() < 0.2:
        return max(ends) + timedelta(hours=rnd.randrange(60))
    moment = rnd.choice(moments) - rnd.choice((timedelta(0), timedelta(hours=4)))
    return max(moment + timedelta(microseconds=rnd.choice((-1, 0, 1))), *ends)


def _window(coat: Any, following: Any, ends: list[datetime], steel: Any, at: datetime) -> Clock:
    lots = [cast("Any", SimpleNamespace(ended_at=end)) for end in ends]
    told = [
        ClimateTold(cast("Any", None), when, Fraction(str(c)), None, passed=True) for when, c in steel if when <= at
    ]
    return windows._clock(coat, following, lots, sorted(told, key=lambda each: each.at), at)


def _iso(moment: datetime | None) -> str | None:
    return None if moment is None else moment.isoformat().replace("+00:00", "Z")


def _text(value: Decimal | None) -> str | None:
    return None if value is None else str(value)
