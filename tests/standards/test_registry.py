"""The registry: what every calculation must offer to pages, API and command line, and how bad input is refused."""

from __future__ import annotations

import json
import math
from decimal import Decimal
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from inspection.standards import InputFault, all_calculations, calculate, get
from inspection.standards.registry import Calculation, UnknownCalculation
from inspection.standards.result_text import as_text
from tests.standards.asking import faults

PROMISED = {
    "dew-point", "condensation-rule", "dft-pa2", "dft-pa2-extent", "base-metal-reading", "dft-iso19840", "dft-imo-pspc",
    "dft-custom", "sampling-plan", "profile-grade", "profile-correction", "verify-gauge", "shim-stack", "choose-shims",
    "wet-film", "coverage", "salts-bresle", "holiday-voltage", "holiday-method", "adhesion-pull-off",
    "adhesion-cross-cut", "conformance-risk", "drift-individuals", "drift-ewma", "drift-forecast",
    "dft-pa2-extent-search", "choose-areas", "verified-range", "shim-readings-needed", "measuring-guidance",
}  # fmt: skip
SPOTS = {"minimum_um": 100, "spots_um": [[101, 102, 103]]}


def every() -> Any:
    return pytest.mark.parametrize("known", all_calculations(), ids=lambda known: known.name)


def test_all_promised_calculations_are_registered() -> None:
    assert {known.name for known in all_calculations()}.issuperset(PROMISED)


@every()
def test_a_calculation_says_what_it_is_and_what_it_rests_on(known: Calculation) -> None:
    assert known.title
    assert known.group
    assert known.sources
    assert known.summary, "the first paragraph of the docstring is shown on the page"
    assert all(spec.label for spec in (*known.inputs, *known.outputs))


@every()
def test_the_example_works_and_explains_itself(known: Calculation) -> None:
    result = calculate(known.name, known.example)
    assert json.loads(json.dumps(result, allow_nan=False)) == result
    assert set(result) <= {name for spec in known.outputs for name in spec.names}
    text = as_text(known.name, result)
    assert known.title in text
    for check in result.get("checks", ()):
        assert check["sentence"] in text


@every()
def test_only_an_optional_part_of_the_answer_is_left_out(known: Calculation) -> None:
    result = calculate(known.name, known.example)
    for spec in known.outputs:
        assert spec.optional or any(name in result for name in spec.names), spec.name


@every()
def test_a_verdict_agrees_with_its_checks(known: Calculation) -> None:
    result = calculate(known.name, known.example)
    if known.judges:
        assert result["verdict"] in ("pass", "fail", "not judged")
        if result["verdict"] != "not judged":
            assert (result["verdict"] == "pass") is all(check["passed"] for check in result["checks"])
        for check in result["checks"]:
            assert {"name", "clause", "sentence", "limit", "observed", "unit", "passed", "decided_by"} <= set(check)


@every()
def test_an_explained_result_carries_its_sources(known: Calculation) -> None:
    result = calculate(known.name, known.example, explain=True)
    assert [source["standard"] for source in result["sources"]] == [source.standard for source in known.sources]
    assert result["caution"] == known.caution


@every()
def test_a_missing_required_field_is_named(known: Calculation) -> None:
    for spec in known.inputs:
        if spec.required:
            given = {name: value for name, value in known.example.items() if name not in spec.names}
            assert spec.label in faults(known.name, given)[spec.name]


def test_an_unknown_calculation_names_the_nearest() -> None:
    with pytest.raises(UnknownCalculation, match="did you mean dft-pa2"):
        get("dft-pa")


def test_an_unknown_field_names_the_nearest() -> None:
    assert "did you mean spots_um?" in faults("dft-pa2", {"minimum_um": 100, "spot_um": [[1]]})["spot_um"]


def test_thicknesses_of_one_call_are_in_one_unit() -> None:
    told = faults("dft-pa2", {"minimum_um": 100, "spots_mil": [[4, 4, 4]]})
    assert told == {"spots_mil": "is in another unit than minimum_um; give all thicknesses of a calculation in one"}


def test_a_thickness_is_given_once() -> None:
    assert faults("dft-pa2", {**SPOTS, "minimum_mil": 4})["minimum_mil"] == "give minimum_um or minimum_mil, not both"


def test_the_answer_comes_back_in_the_unit_of_the_question() -> None:
    answer = calculate("dft-pa2", {"minimum_mil": 4, "spots_mil": [[4.1, 4.1, 4.1]]})
    assert answer["area_mean_mil"] == 4.1
    assert answer["areas"][0]["spot_means_mil"] == [4.1]
    assert answer["checks"][0]["unit"] == "mil"
    assert answer["checks"][0]["limit"] == 3.2


def test_null_counts_as_not_given() -> None:
    assert calculate("dft-pa2", {**SPOTS, "maximum_um": None}) == calculate("dft-pa2", SPOTS)


@pytest.mark.parametrize(
    ("value", "message"),
    [
        (math.nan, "give a finite number (not NaN or infinity)"),
        (-math.inf, "give a finite number (not NaN or infinity)"),
        (Decimal("NaN"), "give a finite number (not NaN or infinity)"),
        (True, "give a number, not true or false"),
        (np.bool_(True), "give a number, not true or false"),
        ("81", "give a number, not text (no quotation marks)"),
        ([81], "give one number, not a list"),
        ({}, "give a number"),
        (-1, "must be at least 0 µm"),
        (100_001, "must be at most 100000 µm"),
        (10**40, "this number is far too large"),
        (1e300, "this number is far outside anything measured"),
        (Decimal("1." + "1" * 31), "give at most 30 digits"),
    ],
)
def test_a_bad_number_is_refused_where_it_stands(value: object, message: str) -> None:
    assert faults("dft-pa2", {"minimum_um": 100, "spots_um": [[100, 101], [100, value, 102]]}) == {
        "spots_um[1][1]": message
    }


@pytest.mark.parametrize(
    ("value", "field", "message"),
    [
        ([], "spots_um", "the list is empty"),
        ([[]], "spots_um[0]", "the list is empty"),
        (7, "spots_um", "give a list of lists"),
        ("80", "spots_um", "give a list of lists"),
        ([None], "spots_um[0]", "give a list"),
        ([{"a": 1}], "spots_um[0]", "give a list"),
        (["80"], "spots_um[0]", "give a number, not text (no quotation marks)"),
    ],
)
def test_a_bad_list_is_refused(value: object, field: str, message: str) -> None:
    assert faults("dft-pa2", {"minimum_um": 100, "spots_um": value}) == {field: message}


def test_every_fault_is_named_at_once_one_a_line() -> None:
    with pytest.raises(InputFault) as caught:
        calculate("dft-pa2", {"level": 9, "minimum_um": "x", "spots_um": [[1, None]], "colour": "red"})
    lines = str(caught.value).splitlines()
    assert [line.split(":")[0] for line in lines] == ["colour", "level", "minimum_um", "spots_um[0][1]"]


def test_bounds_are_told_in_the_unit_of_the_question() -> None:
    assert faults("dft-pa2", {"minimum_mil": 4, "spots_mil": [[-1]]}) == {"spots_mil[0][0]": "must be at least 0 mil"}
    assert "must be at most 3937.008 mil" in str(faults("dft-pa2", {"minimum_mil": 5000, "spots_mil": [[1]]}))


@pytest.mark.parametrize("value", [5, "5", None, [1], 3.5])
def test_an_input_that_is_no_object_is_refused(value: object) -> None:
    assert faults("dft-pa2", value) == {"input": "give an object with named fields"}


@pytest.mark.parametrize("value", [80, 80.0, Decimal(80), Decimal("80.0"), Fraction(80), np.int64(80), np.float64(80)])
def test_any_kind_of_number_is_taken_exactly(value: object) -> None:
    answer = calculate("dft-pa2", {"minimum_um": 100, "spots_um": [[value] * 3, *[[120] * 3] * 4]})
    assert answer["spot_means_um"] == [80, 120, 120, 120, 120]
    assert answer["verdict"] == "pass", "80 is exactly 80 % of 100"


def test_a_float_counts_as_the_decimal_that_was_written() -> None:
    """0.1 + 0.2 is not 0.3 in binary; three readings of which the mean is exactly the limit must pass."""
    answer = calculate("dft-pa2", {"level": 1, "minimum_um": 0.2, "spots_um": [[0.1, 0.2, 0.3]] * 5})
    assert answer["verdict"] == "pass"


@pytest.mark.parametrize("name", ["line\nfeed", "\x00", "\ud800", "", "   ", 5, "x" * 501])
def test_text_is_one_line_that_can_be_written(name: object) -> None:
    assert "areas[0].name" in faults("dft-pa2", {"minimum_um": 1, "areas": [{"name": name, "spots_um": [[1]]}]})


def test_contradictory_limits_are_refused() -> None:
    assert "must not be less than minimum_um" in str(faults("dft-pa2", {**SPOTS, "maximum_um": 99}))
    assert "must not be less than nominal_um" in str(
        faults("dft-iso19840", {"nominal_um": 100, "maximum_um": 99, "readings_um": [1]})
    )
    assert "must not be less than" in str(
        faults("dft-custom", {"rule": "x", "minimum_mean_um": 9, "maximum_each_um": 8, "readings_um": [1]})
    )


def test_ten_thousand_readings_are_judged_well_within_a_second() -> None:
    from time import process_time

    spots = [[100.1 + n % 7, 101.2, 99.9] for n in range(3334)]
    calculate("dft-pa2", {"minimum_um": 90, "spots_um": spots[:5]})  # importing it once is not judging
    start = process_time()
    answer = calculate("dft-pa2", {"minimum_um": 90, "maximum_um": 150, "spots_um": spots})
    assert process_time() - start < 0.8
    assert len(answer["spot_means_um"]) == 3334


@pytest.mark.parametrize("year", ["0202", "1899"])
def test_a_year_that_is_a_slip_of_the_keyboard_is_refused(year: str) -> None:
    dated = [{"date": f"{one}-03-02", "value": 1} for one in (year, "2024", "2025")]
    told = faults("drift-forecast", {"errors_um": dated, "tolerance_um": 3})
    assert told == {"errors_um[0]": f"give a year from 1900 on; this one is {year}"}
    late = {"today": "2026-03-02", "due_on": f"{year}-03-31", "calibrated_on": "2026-03-02", "readings_at_stake": 1,
            "readings_per_working_day": 1}  # fmt: skip
    assert list(faults("lateness-cost", late)) == ["due_on"]


def test_no_check_shows_a_limit_that_was_met_beside_a_fail() -> None:
    """A near miss is shown in as many digits as it takes; a limit that does not itself pass says so."""
    near = as_text("dft-pa2", calculate("dft-pa2", {"minimum_um": 100, "spots_um": [[79.99996], *[[120]] * 4]}))
    assert "limit 80 µm; observed 79.99996 µm" in near
    fifth = as_text("dft-iso19840", calculate("dft-iso19840", {"nominal_um": 100, "readings_um": [95, *[105] * 4]}))
    assert "limit 20 %; observed 20 % (limit excluded)" in fifth
