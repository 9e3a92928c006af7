"""How a judged measurement is shown: checks in the project's unit, what decided them, readings spot by spot."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from inspection.fieldwork.judging import ReadingSent, Spot, area_of_spot, spots_of
from inspection.foundation.units import Unit
from inspection.projects.models import Coat
from inspection.standards.pa2_spots import SPOTS_PER_AREA
from inspection.standards.units import exact, excluded, plain, told_apart

MOST_NAMED = 12
SPOTS_A_PAGE = 200
READINGS_A_PAGE = 600
BELOW_NOMINAL = "below nominal"


@dataclass(frozen=True)
class CheckShown:
    """One check in words a person reads; limit and observed carry their unit."""

    sentence: str
    clause: str
    where: str
    limit: str
    observed: str
    passed: bool | None
    """None while the sample is not complete and the check is open"""
    decided_by: str


@dataclass(frozen=True)
class SpotShown:
    spot: Spot
    readings: tuple[ReadingSent, ...]
    mean: str
    """of the readings that count, corrected, in the project's unit with as many digits as its limit asks for"""
    mark: str
    """empty, or in words what is to be said of the spot"""
    breaks: bool
    """whether the spot alone does not conform"""
    part: str = ""
    """which of its readings these are, where they are too many to be shown at once"""


class Places:
    """Where the indexes of a verdict lie on the steel: the rule counts its own spots and readings from 0."""

    def __init__(self, readings: Iterable[ReadingSent]) -> None:
        counting = sorted((r for r in readings if not r.void_reason), key=lambda reading: reading[:2])
        self.readings = [(reading.spot, reading.order) for reading in counting]
        self.spots: dict[str, list[int]] = {}
        for spot in sorted({reading.spot for reading in counting}):
            self.spots.setdefault(f"area {area_of_spot(spot)}", []).append(spot)

    def spots_of(self, check: Mapping[str, Any]) -> list[int]:
        """The spots that decided a check."""
        indexes = check["decided_by"]
        if check.get("counted_in") == "spot":
            known = self.spots.get(check.get("where", ""), [])
            return [known[index] for index in indexes if index < len(known)]
        return [self.readings[index][0] for index in indexes if index < len(self.readings)]

    def named(self, check: Mapping[str, Any]) -> str:
        """What decided a check, in words, such as “spots 2, 7” or “spot 4 reading 2”."""
        if check.get("counted_in") == "spot":
            names = [str(spot) for spot in self.spots_of(check)]
            lead = "spot " if len(names) == 1 else "spots "
        else:
            found = [self.readings[index] for index in check["decided_by"] if index < len(self.readings)]
            repeated = {spot for spot, order in self.readings if order > 1}
            names = [f"{spot} reading {order}" if spot in repeated else str(spot) for spot, order in found]
            lead = "spot " if len(names) == 1 else "spots "
        if not names:
            return ""
        more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
        return lead + ", ".join(names[:MOST_NAMED]) + more


def checks_shown(result: Mapping[str, Any], unit: Unit | str, places: Places | None = None) -> list[CheckShown]:
    shown = []
    for check in result["checks"]:
        limit, observed = told(check["limit"], check["observed"], check["unit"], Unit(unit))
        shown.append(
            CheckShown(
                sentence=check["sentence"],
                clause=check["clause"],
                where=check.get("where", ""),
                limit=limit + excluded(check),
                observed=observed,
                passed=check["passed"],
                # Of an open check nothing has decided yet.
                decided_by=places.named(check) if places and check["passed"] is not None else "",
            )
        )
    return shown


def told(limit: Any, observed: Any, unit: str, shown_in: Unit) -> tuple[str, str]:
    """Limit and observed as text, with as many digits as it takes to tell a near miss from a hit."""
    if unit == "µm":
        limit, observed = (_in(value, shown_in) for value in (limit, observed))
        unit = shown_in.label
    first, second = told_apart(limit, observed, _figure, 1)
    sign = f" {unit}" if unit else ""
    return (first + sign if first else "–"), (second + sign if second else "–")


def _in(value: Any, unit: Unit) -> Any:
    return value if value is None or unit is Unit.UM else float(exact(value) * 1000 / unit.nm)


def _figure(value: Any, digits: int) -> str:
    if value is None:
        return ""
    if isinstance(value, int | float) and not isinstance(value, bool):
        # As the decimal number that the float names, so that a mean is rounded here as it is elsewhere.
        text = f"{Decimal(repr(value)):.{digits}f}"
        return text.rstrip("0").rstrip(".") if "." in text else text
    return str(value)


def spots_shown(
    readings: Sequence[ReadingSent], correction_nm: int, result: Mapping[str, Any] | None, unit: Unit | str
) -> list[SpotShown]:
    """Every spot with its readings, voided ones among them, and whether it breaks a limit of the rule."""
    broken: dict[int, tuple[str, Any]] = {}
    below: set[int] = set()
    places = Places(readings)
    for check in (result or {}).get("checks", ()):
        if check["passed"] is False and check.get("unit") == "µm":
            for number in places.spots_of(check):
                broken.setdefault(number, (_mark(check["name"]), check["limit"]))
        elif check["passed"] is False and check.get("unit") == "%":
            # Within its own limits: only their number is too great.
            below.update(places.spots_of(check))
    by_spot: dict[int, list[ReadingSent]] = {}
    for reading in sorted(readings, key=lambda reading: reading[:2]):
        by_spot.setdefault(reading.spot, []).append(reading)
    shown = []
    for spot in spots_of(readings, correction_nm):
        mark, limit = broken.get(spot.number, (BELOW_NOMINAL if spot.number in below else "", None))
        mean = "" if spot.mean_nm is None else told(limit, plain(spot.mean_nm / 1000), "µm", Unit(unit))[1]
        shown.append(SpotShown(spot, tuple(by_spot[spot.number]), mean, mark, spot.number in broken))
    return shown


def in_pages(spots: Iterable[SpotShown]) -> list[list[SpotShown]]:
    """The spots in windows of bounded length; a spot of more readings than that goes on in the next window."""
    pages: list[list[SpotShown]] = [[]]
    room = READINGS_A_PAGE
    for part in (part for spot in spots for part in _in_parts(spot)):
        if pages[-1] and (len(part.readings) > room or len(pages[-1]) == SPOTS_A_PAGE):
            pages.append([])
            room = READINGS_A_PAGE
        pages[-1].append(part)
        room -= len(part.readings)
    return pages


def _in_parts(spot: SpotShown) -> list[SpotShown]:
    count = len(spot.readings)
    if count <= READINGS_A_PAGE:
        return [spot]
    return [
        replace(
            spot,
            readings=spot.readings[first : first + READINGS_A_PAGE],
            part=f"readings {first + 1} to {min(first + READINGS_A_PAGE, count)} of {count}",
        )
        for first in range(0, count, READINGS_A_PAGE)
    ]


def _mark(name: str) -> str:
    return "too thick" if "maximum" in name else "too thin"


def limits_in_words(coat: Coat) -> str:
    """What the rule will hold a spot or a reading to, before there is a verdict to read it from."""
    if declared := coat.declaration:
        share = "" if declared.share_below_pct is None else " and the share below"
        few = "" if declared.table else " It declares no sampling table: what is measured is judged as the whole."
        return (
            f"{declared.name}, as {declared.document} has it: what it declares of the mean{share} is judged once all "
            f"readings are taken; a reading alone is held to what it declares of each.{few}"
        )
    return {
        Coat.Rule.PA2: f"Judged by spots: the mean of three readings or more. {SPOTS_PER_AREA} spots make an area "
        "of about 10 m²: spots 1 to 5 are area 1, 6 to 10 area 2, and so on.",
        Coat.Rule.ISO_19840: "The mean of all readings and the share below nominal are judged once all are taken; a "
        "reading alone is held to the limits above, after the correction. Only one outside them may be voided and "
        "repeated close by, and each repeat counts.",
        Coat.Rule.IMO_PSPC: "The share that reaches nominal is judged once all readings are taken; a reading alone is "
        "held to the limits above. The plan counts one reading for each 5 m² of flat surface, and what the area’s page "
        "declares of boundaries, stiffeners, primary members and openings; what is not declared comes on top.",
    }[Coat.Rule(coat.rule)]
