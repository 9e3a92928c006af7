"""The rules on the phone answer as the core does, in every field, on 100,000 generated cases a rule and more."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import pytest

from inspection.fieldwork import judging
from inspection.projects.models import Coat
from tests.field import climate_cases, gauge_cases, plan_cases, recoat_cases, thickness_cases, typed_cases
from tests.field.comparing import Case, answered, modules

pytestmark = pytest.mark.once
CASES = 100_000
FEWER = 2_000
ALONE = [rule for rule in Coat.Rule.values if rule != Coat.Rule.PA2]
Maker = Callable[[int, int], Iterator[Case]]


@pytest.fixture(scope="module")
def rules(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return modules(tmp_path_factory.mktemp("field"))


def none_differs(told: str, count: int) -> bool:
    cases, differing = told.splitlines()[-1].split(" cases, ")
    assert differing == "0 answered otherwise", told
    return int(cases) >= count


@pytest.fixture(autouse=True)
def planned_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(judging, "plan_of", thickness_cases.plan_of)


def named(made: Maker) -> str:
    return made.func.__name__ + made.args[0] if isinstance(made, partial) else made.__name__


@pytest.mark.parametrize(
    "cases",
    [
        thickness_cases.areas_of_spots,
        *(partial(thickness_cases.readings_alone, rule) for rule in ALONE),
        gauge_cases.points_of_checks, climate_cases.limits_alone, recoat_cases.recoats,
    ],
    ids=named,
)  # fmt: skip
def test_the_phone_judges_as_the_core(rules: Path, cases: Maker) -> None:
    assert none_differs(answered(rules, cases(1, CASES)), CASES)


def test_a_decimal_point_out_of_its_place_is_asked_about_and_nothing_else(rules: Path) -> None:
    assert none_differs(answered(rules, gauge_cases.points_out_of_place()), 8)


def test_steel_exactly_at_its_margin_in_saturated_air_is_judged_alike(rules: Path) -> None:
    """The verdict there hangs on the last bit of the dew point, which another machine's library may round otherwise."""
    cases, differing = answered(rules, climate_cases.saturated()).splitlines()[-1].split(" cases, ")
    assert int(differing.split()[0]) <= int(cases) // 100


@pytest.mark.parametrize(
    "cases",
    [
        *(partial(thickness_cases.of_rule, rule) for rule in Coat.Rule.values),
        gauge_cases.checks_of_gauges, climate_cases.climate, gauge_cases.comparisons,
        gauge_cases.questions, climate_cases.dew_points, climate_cases.slips_of_climate,
        plan_cases.plans, plan_cases.running, typed_cases.corrections, typed_cases.figures,
    ],
    ids=named,
)  # fmt: skip
def test_what_is_told_and_asked_on_the_phone_is_as_at_the_office(rules: Path, cases: Maker) -> None:
    assert none_differs(answered(rules, cases(3, FEWER)), FEWER)
