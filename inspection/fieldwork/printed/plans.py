"""What is planned for an area after a coat, as a sheet of paper tells it, and what has changed since it was printed."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any, TypedDict

from inspection.fieldwork.judging import limits_of_one, plan_of
from inspection.foundation.units import with_unit
from inspection.projects.breakdown import former_system, retired_words
from inspection.projects.models import Coat, InspectionArea
from inspection.projects.steps import film_on


class AreaPlan(TypedDict):
    """Kept as it was when it was printed; thicknesses in whole nanometres, through all coats up to this one."""

    area: str
    name: str
    lies_in: str
    area_m2: str
    system: str
    coat: str
    product: str
    rule: str
    decides: bool
    minimum_nm: int | None
    nominal_nm: int | None
    maximum_nm: int | None
    least_nm: int | None
    most_nm: int | None
    readings: int
    spots: int
    readings_a_spot: int


def plan_now(area: InspectionArea, coat: Coat) -> AreaPlan:
    """Raises Refused for a size that the coat's rule does not cover."""
    coat = film_on(area, coat)
    minimum, nominal, maximum = coat.through
    least, most = limits_of_one(coat)
    plan = plan_of(coat, area)
    return AreaPlan(
        area=area.label, name=area.name, lies_in=area.lies_in, area_m2=f"{Decimal(area.area_m2).normalize():f}",
        system=str(coat.system), coat=coat.name, product=coat.product, rule=coat.rule_name, decides=coat.decides,
        minimum_nm=minimum, nominal_nm=nominal, maximum_nm=maximum, least_nm=_whole(least), most_nm=_whole(most),
        readings=plan.readings, spots=plan.spots, readings_a_spot=plan.readings_a_spot,
    )  # fmt: skip


def _whole(limit: Fraction | None) -> int | None:
    return None if limit is None else round(limit)


NAMED = {
    "area_m2": "m²", "system": "Coating system", "rule": "Rule", "minimum_nm": "Minimum", "nominal_nm": "Nominal",
    "maximum_nm": "Maximum", "readings": "Readings wanted",
}  # fmt: skip


def changes_since(then: dict[str, Any], area: InspectionArea, coat: Coat, unit: str) -> list[str]:
    """A sentence for each thing that is otherwise now: the area divided or out of use, its system, its plan."""
    told = []
    if words := retired_words(area):
        became = ", ".join(sorted(area.became.values_list("code", flat=True)))
        told.append(f"{words}{f' It became {became}.' if became else ''} The readings are kept there all the same.")
    if former := former_system(area, coat):
        left = former.left_at.astimezone(area.structure.project.zone)
        told.append(
            f"{area.label} has had another system or revision since {left:%Y-%m-%d %H:%M}: the readings are judged by "
            "the one in force when they were taken."
        )
    now: dict[str, Any] = dict(plan_now(area, coat))
    for key, name in NAMED.items():
        if key in then and then[key] != now[key]:
            told.append(f"{name}: {_told(key, then[key], unit)} on the paper, {_told(key, now[key], unit)} now.")
    return told


def _told(key: str, value: Any, unit: str) -> str:
    return with_unit(value, unit) if key.endswith("_nm") else str(value)
