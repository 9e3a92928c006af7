"""A form for every calculation, made from what the standards core says of its inputs."""

from __future__ import annotations

import html
import re
from typing import Any

import pytest
from django.test import Client

from inspection.calculators.forms import CalculatorForm, Group
from inspection.standards import all_calculations, calculate, get
from tests.cast import Cast
from tests.fieldwork.test_sheet_pages import ines, words

__all__ = ["ines"]
NAMES = [calculation.name for calculation in all_calculations()]


def typed_example(name: str) -> dict[str, str]:
    """What a browser sends when the example stands in the form."""
    form = CalculatorForm(get(name), None).fill(get(name).example)
    typed = {one.name: one.text for one in form.inputs if one.widget != "flag" or one.text}
    counts = {f"{item.name}-rows": str(len(item.rows)) for item in form.items if isinstance(item, Group)}
    return typed | counts | {"unit": form.unit}


@pytest.mark.parametrize("name", NAMES)
def test_the_example_typed_into_the_form_gives_the_answer_of_the_core(name: str) -> None:
    form = CalculatorForm(get(name), typed_example(name))
    given = form.given()
    assert form.faults == []
    assert calculate(name, given) == calculate(name, get(name).example)


def test_every_page_shows_form_answer_and_sources(ines: Client, cast: Cast) -> None:
    for calculation in all_calculations():
        address = f"/calculators/{calculation.name}/"
        assert ines.get(address).status_code == 200
        answer = ines.post(address, typed_example(calculation.name))
        page = html.unescape(words(answer))
        assert (calculation.name, answer.status_code, "Answer" in page) == (calculation.name, 200, True)
        assert [source for source in calculation.sources if source.standard not in page] == []
        assert calculation.caution in page


def test_an_empty_form_is_answered_with_words_or_from_its_defaults(ines: Client, cast: Cast) -> None:
    for name in NAMES:
        answer = ines.post(f"/calculators/{name}/", {})
        told = "Please put right" if answer.status_code == 422 else "Answer"
        assert (name, told in words(answer)) == (name, True)


def test_mil_are_asked_and_answered_in_mil(ines: Client, cast: Cast) -> None:
    # SSPC-PA 2, appendix 1, numerical example (from memory): mean 2.58 mil of 2.5, 3.0, 2.1, 3.0, 2.3.
    typed = {"unit": "mil", "level": "3", "minimum_um": "2,5", "spots_um": "2.5\n3.0\n2.1\n3.0\n2.3"}
    page = words(ines.post("/calculators/dft-pa2/", typed))
    assert "Area mean: 2.58 mil" in page
    assert "2 mil 2.1 mil" in page


@pytest.mark.parametrize(
    ("name", "typed", "said"),
    [
        ("wet-film", {"dry_film_um": "eighty", "volume_solids_pct": "60"}, "“eighty” is no number"),
        ("wet-film", {"dry_film_um": "-5", "volume_solids_pct": "60"}, "must be"),
        ("wet-film", {"dry_film_um": "80", "volume_solids_pct": "600"}, "must be at most 100"),
        ("wet-film", {"dry_film_um": "1e99999", "volume_solids_pct": "60"}, "far outside"),
        ("sampling-plan", {"standard": "SSPC-PA 2", "area_m2": "0"}, "must be more than 0"),
        ("sampling-plan", {"standard": "made up", "area_m2": "5"}, "choose one of"),
        ("dft-iso19840", {"nominal_um": "200", "readings_um": "80,81"}, "may be one number or several"),
        ("dft-iso19840", {"nominal_um": "200", "readings_um": "80 -4 81"}, "number 2: must be at least 0"),
        ("dft-pa2", {"minimum_um": "60", "spots_um": "80 81\n82 -1"}, "line 2, number 2: must be at least 0"),
        ("drift-forecast", {"errors_um": "yesterday 1.2", "tolerance_um": "2"}, "2024-05-31"),
        ("adhesion-pull-off", {"failures_pct": "60"}, "lacks its name"),
        (
            "verify-gauge",
            {"accuracy_pct": "1", "points-rows": "3", "points-2-certified_um": "50", "points-2-readings_um": "x"},
            "“x” is no number",
        ),
    ],
)
def test_what_is_wrong_is_said_beside_its_input_and_kept(
    ines: Client, cast: Cast, name: str, typed: dict[str, str], said: str
) -> None:
    answer = ines.post(f"/calculators/{name}/", typed)
    assert answer.status_code == 422
    assert said in words(answer).replace("&quot;", '"')
    for value in (value for field, value in typed.items() if field != "standard"):
        assert value.splitlines()[0] in answer.content.decode()


def test_a_fault_in_a_row_is_put_beside_that_row_even_when_rows_before_it_are_empty() -> None:
    typed = {
        "accuracy_pct": "1", "points-rows": "2", "points-1-certified_um": "50",
        "points-1-expanded_uncertainty_um": "1", "points-1-readings_um": "50 -5000",
    }  # fmt: skip
    form = CalculatorForm(get("verify-gauge"), typed)
    with pytest.raises(ValueError, match="readings_um") as refused:
        calculate("verify-gauge", form.given())
    form.mark(refused.value)
    assert [name for name, _ in form.faults] == ["id_points-1-readings_um"]


def test_one_more_row_keeps_what_was_typed_and_answers_nothing(ines: Client, cast: Cast) -> None:
    typed = {"accuracy_pct": "1", "points-rows": "2", "points-0-certified_um": "50.2", "more": "points"}
    answer = ines.post("/calculators/verify-gauge/", typed)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert 'name="points-2-certified_um"' in page
    assert re.search(r'name="points-0-certified_um"[^>]*>50.2<', page)
    assert "Answer" not in words(answer)


def test_everybody_signed_in_may_calculate_and_nobody_else(client: Client, cast: Cast) -> None:
    for someone in (cast.clara, cast.audrey, cast.admin, cast.igor):
        client.force_login(someone)
        assert client.get("/calculators/").status_code == 200
    assert client.get("/calculators/dft-pa3/").status_code == 404
    client.logout()
    assert client.get("/calculators/").status_code == 302


def test_the_list_names_every_calculation(ines: Client, cast: Cast) -> None:
    page = ines.get("/calculators/").content.decode()
    assert [name for name in NAMES if f"/calculators/{name}/" not in page] == []


def test_checks_and_figures_are_the_ones_of_the_core(ines: Client, cast: Cast) -> None:
    answer: dict[str, Any] = calculate("dft-iso19840", get("dft-iso19840").example)
    page = words(ines.post("/calculators/dft-iso19840/", typed_example("dft-iso19840")))
    for check in answer["checks"]:
        assert check["sentence"] in page
