"""The form of pull-off tests: a line for each dolly."""

from __future__ import annotations

from typing import Any

from django import forms

from inspection.fieldwork.forms import Corrected
from inspection.fieldwork.pulloff.models import PullOffRecord
from inspection.fieldwork.pulloff.recording import in_order
from inspection.fieldwork.tested_forms import FilmTest, figure
from inspection.foundation.form_fields import LinesField, Row, number, placed
from inspection.instruments.models import Gauge
from inspection.standards.pull_off_field import METHODS

EXAMPLE = "frame 12, web: 7.2; B 60, B/C 30, Y 10"


def test_of(line: str) -> Row:
    """`place: strength [psi] [in 8 s]; code share, …` as a row. Raises ValueError saying what is wrong."""
    place, found = placed(line, EXAMPLE)
    read, semicolon, failures = found.partition(";")
    if not semicolon:
        raise ValueError(f"after the strength give a semicolon and the share of each failure, such as {EXAMPLE}")
    strength, _, seconds = read.partition(" in ")
    row: Row = {"place": place, "failures_pct": dict(map(_failure, failures.split(",")))}
    if len(row["failures_pct"]) != len(failures.split(",")):
        raise ValueError("name each failure once")
    unit = "strength_psi" if strength.strip().lower().endswith("psi") else "strength_mpa"
    row[unit] = number(
        strength.lower().replace("psi", "").replace("mpa", ""), "give a strength, such as 7.2 or 1050 psi"
    )
    if seconds:
        row["seconds"] = number(seconds.strip().removesuffix("s"), "give the seconds, such as in 8 s")
    return row


test_of.__test__ = False  # type: ignore[attr-defined]  # named as the trade does; none of pytest's


def _failure(text: str) -> tuple[str, Any]:
    code, _, share = text.strip().rpartition(" ")
    if not code:
        raise ValueError(f"“{text.strip()[:40]}” is no code with its share, such as B/C 30")
    return code.strip().upper(), number(share.removesuffix("%"), "give the share in per cent")


def line_of(test: Row) -> str:
    """The line that gives this row."""
    strength = f"{test['strength_mpa']:g}" if "strength_mpa" in test else f"{test['strength_psi']:g} psi"
    seconds = f" in {test['seconds']:g} s" if "seconds" in test else ""
    failures = ", ".join(f"{code} {share:g}" for code, share in in_order(test))
    return f"{test['place']}: {strength}{seconds}; {failures}"


class PullOff(FilmTest):
    model = PullOffRecord
    instrument = Gauge.Kind.ADHESION
    figures = ("tests", "tests_wanted", "minimum_mean_mpa", "minimum_single_mpa")
    stay = (
        "method", "tests_wanted", "minimum_mean_mpa", "minimum_single_mpa", "greatest_glue_share_pct",
        "contract_instrument", "used_instrument", "dolly_mm", "glue",
    )  # fmt: skip
    field_order = (
        "area", "coat", "id", "taken_at", "method", "tests", "tests_wanted", "minimum_mean_mpa", "minimum_single_mpa",
        "greatest_glue_share_pct", "contract_instrument", "used_instrument", "gauge", "dolly_mm", "steel_mm",
        "steel_stiffened", "film_cut", "glue", "glue_cured_h", "note",
    )  # fmt: skip

    method = forms.ChoiceField(label="Standard", choices=[(name, name) for name in METHODS])
    tests = LinesField(
        test_of,
        label="Tests, a line for each dolly",
        help_text=f"Place, strength in MPa (or with psi), then the share of each failure in %, adding to 100: "
        f"{EXAMPLE}. A steel, B first coat, C next, Y glue, Z dolly, A/B between two. With the time of loading: 7.2 "
        "in 8 s. Each test is a hole in the film: an item of rework is opened at its place.",
    )
    tests_wanted = forms.IntegerField(
        label="Tests the contract asks for", min_value=1, max_value=100_000,
        help_text="ASTM D4541 fixes no number; ISO 4624 by edition; ISO 16276-1 by the size of the area.",
    )  # fmt: skip
    minimum_mean_mpa = figure("Least mean strength, MPa", "By the contract. With neither limit nothing is judged.")
    minimum_single_mpa = figure("Least single strength, MPa", "By the contract.")
    greatest_glue_share_pct = figure(
        "A low test is no result with more glue failure than, %",
        "By the contract; asked where a test failed in or at the glue.",
    )
    contract_instrument = forms.CharField(
        label="Instrument of the contract", required=False, max_length=200,
        help_text="Kind and maker; asked by ISO 16276-1, for results of two kinds do not compare.",
    )  # fmt: skip
    used_instrument = forms.CharField(label="Instrument used", max_length=200, help_text="Kind and maker.")
    dolly_mm = figure("Dolly, diameter in mm", "A result means little without it.", required=True, example="20")
    steel_mm = figure("Thickness of the steel, mm", "Under 10 mm it bends (ISO 16276-1, 2007).", required=True)
    steel_stiffened = forms.BooleanField(label="Thin steel was stiffened", required=False)
    film_cut = forms.BooleanField(label="The film was cut round the dolly", required=False)
    glue = forms.CharField(label="Glue", required=False, max_length=200)
    glue_cured_h = figure("Glue cured for, h", example="24")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["gauge"].label = "Adhesion tester"


class PullOffCorrection(PullOff, Corrected):
    pass
