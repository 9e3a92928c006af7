"""Aged coatings: rust and blisters by ASTM D610, D714 and ISO 4628, ballast tanks by the IMO circulars."""

from __future__ import annotations

from typing import Any

import pytest

from inspection.standards import calculate
from tests.reference.table import MEMORY, STORED, Check, holds
from tests.standards.asking import faults

D610 = "ASTM D610-08 (2012), table: the upper border belongs to its grade"
RI = "ISO 4628-3: pictures of 0.05, 0.5, 1, 8 and 40 to 50 % rust"
IMO = "IMO MSC.1/Circ.1330 and Circ.1399: GOOD, FAIR, POOR; the worst criterion counts"
WORST = "Survey rules for ballast tanks: the tank is no better than its worst area, never averaged; ISO 4628 apart"
ISO_4628 = "ISO 4628-1 and -2: quantity(Ssize)"
D714 = "ASTM D714: sizes 10, 8, 6, 4, 2 with F, M, MD, D"


def tank(*areas: Any) -> dict[str, Any]:
    names = ("breakdown_pct", "hard_scale_pct", "edges_pct")
    return {"areas": [{"name": f"area {n}", **dict(zip(names, area, strict=True))} for n, area in enumerate(areas, 1)]}


CHECKS = [
    *(Check("rust-grade", D610, STORED, {"rusted_pct": share}, {"astm_d610": grade})
      for share, grade in ((0, "10"), (0.01, "10"), (0.010001, "9"), (0.03, "9"), (0.1, "8"), (0.3, "7"), (1.0, "6"),
                           (3, "5"), (10, "4"), (16, "3"), (33, "2"), (50, "1"), (50.1, "0"), (100, "0"))),
    *(Check("rust-grade", RI, STORED, {"rusted_pct": share}, {"iso_4628_3": said})
      for share, said in ((0, "Ri 0"), (0.05, "Ri 1"), (0.5, "Ri 2"), (1, "Ri 3"), (8, "Ri 4"), (40, "Ri 5"),
                          (45, "Ri 5"), (50, "Ri 5"), (4, "between the pictures Ri 3 and Ri 4: a person chooses"))),
    Check("defect-rating", ISO_4628, MEMORY,
          {"defect": "blistering", "scale": "ISO 4628", "rating": "3(S2)"},
          {"means": "quantity 3 of 5, size 2: just visible", "rule": "ISO 4628-2", "verdict": "not judged"}),
    Check("defect-rating", D714, STORED, {"defect": "blistering", "scale": "ASTM D714", "rating": "6MD"},
          {"means": "size 6, medium dense"}),
    Check("defect-rating", D610, STORED, {"defect": "rusting", "scale": "ASTM D610", "rating": "6-S"},
          {"means": "to 1 % rusted, spot rusting"}),
    Check("defect-rating", RI, STORED, {"defect": "rusting", "scale": "ISO 4628-3", "rating": "Ri4",
                                        "worst_allowed": "Ri 3"},
          {"means": "as the picture of 8 % rust", "verdict": "fail"}),
    Check("defect-rating", D714 + "; downwards is worse", STORED,
          {"defect": "blistering", "scale": "ASTM D714", "rating": "8F", "worst_allowed": "6M"}, {"verdict": "pass"}),
    Check("defect-rating", D714 + "; downwards is worse", STORED,
          {"defect": "blistering", "scale": "ASTM D714", "rating": "4F", "worst_allowed": "6M"}, {"verdict": "fail"}),
    *(Check("ballast-tank-condition", IMO, STORED, tank(area), {"condition": condition})
      for area, condition in (
          ((2.9, 0, 19.9), "GOOD"), ((3, 0, 0), "FAIR"), ((20, 0, 0), "FAIR"), ((20.1, 0, 0), "POOR"),
          ((1, 9.9, 0), "FAIR"), ((1, 10, 0), "POOR"), ((1, 0, 20), "FAIR"), ((1, 0, 50), "FAIR"),
          ((1, 0, 50.1), "POOR"))),
    Check("ballast-tank-condition", WORST, STORED, tank((1, 0, 5), (25, 0, 5), (1, 0, 5)),
          {"condition": "POOR", "worst_areas": ["area 2"]}),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check: Check) -> None:
    holds(check)


@pytest.mark.parametrize(
    ("defect", "scale", "rating", "said"),
    [
        ("blistering", "ISO 4628", "0(S3)", "nothing there is written 0(S0)"),
        ("blistering", "ISO 4628", "6(S2)", "go from 0 to 5"),
        ("blistering", "ISO 4628", "3", "written like 3(S2)"),
        ("blistering", "ASTM D714", "5MD", "10, 8, 6, 4 and 2"),
        ("blistering", "ASTM D714", "6", "needs F, M, MD or D"),
        ("blistering", "ASTM D714", "10F", "has no frequency"),
        ("rusting", "ASTM D610", "10-S", "no type of rusting"),
        ("rusting", "ASTM D610", "11", "from 10 to 0"),
        ("rusting", "ISO 4628-3", "Ri6", "from Ri 0 to Ri 5"),
    ],
)
def test_a_rating_that_its_scale_does_not_hold_is_refused(defect: str, scale: str, rating: str, said: str) -> None:
    assert said in faults("defect-rating", {"defect": defect, "scale": scale, "rating": rating})["rating"]


def test_a_limit_on_another_scale_is_refused() -> None:
    asked = {"defect": "blistering", "scale": "ISO 4628", "rating": "2(S2)", "worst_allowed": "6MD"}
    assert "written like 3(S2)" in faults("defect-rating", asked)["worst_allowed"]
    assert (
        "rated by ISO 4628" in faults("defect-rating", {**asked, "defect": "cracking", "scale": "ASTM D714"})["scale"]
    )


def test_both_parts_of_a_rating_must_be_no_worse_than_allowed() -> None:
    asked = {"defect": "flaking", "scale": "ISO 4628", "worst_allowed": "3(S2)"}
    verdicts = [calculate("defect-rating", {**asked, "rating": r})["verdict"] for r in ("3(S2)", "2(S3)", "4(S1)")]
    assert verdicts == ["pass", "fail", "fail"]


def test_a_type_of_rusting_belongs_to_the_grades_between() -> None:
    """ASTM D610 (stored source): no type for 10 and 0."""
    for share in (0.01, 51):
        assert "no type" in faults("rust-grade", {"rusted_pct": share, "type_of_rusting": "S"})["type_of_rusting"]
    assert calculate("rust-grade", {"rusted_pct": 1, "type_of_rusting": "G"})["astm_d610"] == "6-G"


def test_a_critical_place_and_a_failing_film_cap_their_area() -> None:
    """IMO MSC.1/Circ.1330 (stored source): a critical structural place caps its area; GOOD shows no film failure."""
    good = tank((1, 0, 5))["areas"][0]
    capped = calculate("ballast-tank-condition", {"areas": [{**good, "critical_place": "POOR"}]})
    assert capped["areas"] == [{"name": "area 1", "condition": "POOR", "decided_by": "critical place"}]
    failing = calculate("ballast-tank-condition", {"areas": [{**good, "visible_failure": True}]})
    assert (failing["condition"], failing["areas"][0]["decided_by"]) == ("FAIR", "visible failure")
    better = calculate("ballast-tank-condition", {"areas": [{**good, "breakdown_pct": 21, "critical_place": "GOOD"}]})
    assert better["condition"] == "POOR", "a good critical place lifts nothing"
