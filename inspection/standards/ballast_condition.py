"""Coating condition of ballast tanks: GOOD, FAIR or POOR, area by area and for the tank."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.registry import Source, calculation, choice, flag, items, number, result, text

CIRCULAR = Source("IMO MSC.1/Circ.1330", "2009, with Circ.1399: GOOD, FAIR, POOR", "", "stored source")
WORST_COUNTS = Source("Rules for surveys of ballast tanks", "worst of the criteria, worst of the areas; never averaged",
                      "", "stored source")  # fmt: skip

CONDITIONS = ("GOOD", "FAIR", "POOR")
FAIR_BREAKDOWN_FROM_PCT, POOR_BREAKDOWN_ABOVE_PCT = 3, 20
POOR_SCALE_FROM_PCT = 10
FAIR_EDGES_FROM_PCT, POOR_EDGES_ABOVE_PCT = 20, 50


@dataclass(frozen=True, kw_only=True)
class TankArea:
    name: str = text("Area")
    breakdown_pct: Fraction = number("Breakdown or rust, of the area", minimum=0, maximum=100)
    hard_scale_pct: Fraction = number("Hard rust scale, of the area", minimum=0, maximum=100, default=0)
    edges_pct: Fraction = number("Edges and welds broken down, of their length", minimum=0, maximum=100)
    visible_failure: bool = flag("Visible failure of the film", default=False)
    critical_place: str | None = choice(
        "Condition of a critical structural place in it", CONDITIONS, optional=True, help="Caps the area."
    )


@dataclass(frozen=True, kw_only=True)
class TankIn:
    areas: tuple[TankArea, ...] = items("Areas of the tank", TankArea, most=500)


@dataclass(frozen=True, kw_only=True)
class AreaCondition:
    name: str
    condition: str
    decided_by: str


@dataclass(frozen=True, kw_only=True)
class TankOut:
    condition: str = result("Condition of the tank")
    worst_areas: tuple[str, ...] = result("Areas that decide")
    areas: tuple[AreaCondition, ...] = result("Condition of each area")


@calculation(
    "ballast-tank-condition",
    title="Coating condition of a ballast tank",
    group="Condition",
    sources=(CIRCULAR, WORST_COUNTS),
    example={"areas": [
        {"name": "under deck", "breakdown_pct": 4, "hard_scale_pct": 1, "edges_pct": 15},
        {"name": "bottom", "breakdown_pct": 1, "edges_pct": 10},
    ]},
    caution="A tank is a confined space: permit, gas test, watchman, rescue plan. The class surveyor rates the tank; "
    "this shows what the percentages lead to.",
)  # fmt: skip
def ballast_tank_condition(inputs: TankIn) -> TankOut:
    """GOOD, FAIR or POOR for each area by its worst criterion, and for the tank by its worst area; nothing is averaged.

    GOOD: breakdown under 3 % of the area, no visible failure of the film, no hard scale, edges or welds under 20 % of
    their length. FAIR: 3 to 20 %, hard scale under 10 %, edges 20 to 50 %. POOR: over 20 %, hard scale 10 % or more,
    edges over 50 %. A critical structural place caps its area. Percentages 0 to 100 (IMO MSC.1/Circ.1330).
    """
    rated = tuple(_rated(area) for area in inputs.areas)
    worst = max((area.condition for area in rated), key=CONDITIONS.index)
    return TankOut(
        condition=worst,
        worst_areas=tuple(area.name for area in rated if area.condition == worst),
        areas=rated,
    )


def _rated(area: TankArea) -> AreaCondition:
    found = {
        "breakdown": _by(area.breakdown_pct >= FAIR_BREAKDOWN_FROM_PCT, area.breakdown_pct > POOR_BREAKDOWN_ABOVE_PCT),
        "hard scale": _by(area.hard_scale_pct > 0, area.hard_scale_pct >= POOR_SCALE_FROM_PCT),
        "edges and welds": _by(area.edges_pct >= FAIR_EDGES_FROM_PCT, area.edges_pct > POOR_EDGES_ABOVE_PCT),
        "visible failure": _by(area.visible_failure, False),
        "critical place": area.critical_place or CONDITIONS[0],
    }
    worst = max(found.values(), key=CONDITIONS.index)
    why = ", ".join(name for name, condition in found.items() if condition == worst)
    return AreaCondition(name=area.name, condition=worst, decided_by=why if worst != CONDITIONS[0] else "all criteria")


def _by(fair: bool, poor: bool) -> str:
    return CONDITIONS[2 if poor else 1 if fair else 0]
