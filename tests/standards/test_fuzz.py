"""Whatever is sent, a calculation answers with finite numbers or names the field that is wrong; never anything else."""

from __future__ import annotations

import copy
import json
import math
import random
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest

from inspection.standards import InputFault, all_calculations, calculate
from inspection.standards.registry import Calculation
from inspection.standards.result_text import as_text

NEVER_A_NUMBER = [math.nan, math.inf, -math.inf, Decimal("NaN"), "text", "12", True, {}, "\ud800"]
ODD = [
    None, -1e9, 1e300, 10**400, -0.0, 0, 1, -1, 1e-300, 5e-324, Decimal("1E+999999"), 99_999, 100.5, 1e9, -5e5, 1e11,
    "", [], [[]], [None], {}, {"x": 1}, [{}], "2024-02-30", "2024-05-31", False, [1, 2], [[1, 2], [3]],
]  # fmt: skip


def every() -> Any:
    return pytest.mark.parametrize("known", all_calculations(), ids=lambda known: known.name)


def places(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The way to every part of a nested example."""
    parts = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, part in parts:
        yield (*path, key)
        yield from places(part, (*path, key))


def changed(example: Any, path: tuple[Any, ...], value: Any) -> Any:
    given = copy.deepcopy(example)
    at = given
    for key in path[:-1]:
        at = at[key]
    at[path[-1]] = value
    return given


def answers_or_names_the_fault(name: str, given: Any) -> bool:
    try:
        result = calculate(name, given)
    except InputFault as refused:
        faults = refused.faults
    else:
        json.dumps(result, allow_nan=False)
        assert as_text(name, result)
        return True
    assert faults
    assert all(fault.field and fault.message for fault in faults)
    return False


def plain_example(known: Calculation) -> Any:
    return json.loads(json.dumps(dict(known.example)))


@every()
def test_what_is_never_a_number_is_refused_wherever_a_number_stands(known: Calculation) -> None:
    example = plain_example(known)
    numeric = {name for spec in known.inputs if spec.kind in ("number", "thickness") for name in spec.names}
    tried = 0
    for path in places(example):
        at = example
        for key in path:
            at = at[key]
        if isinstance(at, int | float) and not isinstance(at, bool) and path[0] in numeric:
            for bad in NEVER_A_NUMBER:
                tried += 1
                assert not answers_or_names_the_fault(known.name, changed(example, path, bad)), (path, bad)
    assert tried or not any(name in example for name in numeric)


@every()
def test_every_part_of_the_example_replaced_by_anything(known: Calculation) -> None:
    example = plain_example(known)
    for path in places(example):
        for odd in [*NEVER_A_NUMBER, *ODD]:
            answers_or_names_the_fault(known.name, changed(example, path, odd))


@every()
def test_random_mixtures(known: Calculation) -> None:
    rng = random.Random(known.name)
    example = plain_example(known)
    names = [name for spec in known.inputs for name in spec.names] + ["unknown"]
    for _ in range(200):
        given = copy.deepcopy(example)
        for _ in range(rng.randint(1, 4)):
            action = rng.random()
            if action < 0.3 and given:
                del given[rng.choice(list(given))]
            elif action < 0.6:
                given[rng.choice(names)] = copy.deepcopy(rng.choice([*NEVER_A_NUMBER, *ODD]))
            else:
                reachable = list(places(given))
                if reachable:
                    given = changed(given, rng.choice(reachable), copy.deepcopy(rng.choice(ODD)))
        answers_or_names_the_fault(known.name, given)


@every()
def test_choices_take_each_of_their_options(known: Calculation) -> None:
    example = plain_example(known)
    for spec in known.inputs:
        for option in spec.options:
            answers_or_names_the_fault(known.name, {**example, spec.name: option})
        if spec.options:
            assert not answers_or_names_the_fault(known.name, {**example, spec.name: "no such option"})
