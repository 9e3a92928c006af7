"""What a rule says of the rest of a sample without the values within a part that is repaired and measured by itself.

SSPC-PA 2: an area measurement is the mean of five spots over each 10 m² (May 2012, stored partial text). That the part
makes up for what it takes away, and that three of five spots at least remain, is common practice, no source.
"""

from __future__ import annotations

import pytest

from inspection.standards import calculate

PA2 = {"level": 3, "minimum_um": 60, "maximum_um": 120}
SPOT = [80, 80, 80]


@pytest.mark.parametrize(
    ("spots", "left_out", "verdict"),
    [
        ([SPOT] * 4, 1, "pass"),
        ([SPOT] * 3, 2, "pass"),
        ([SPOT] * 2, 3, "incomplete"),
        # Nothing is made up for without a part.
        ([SPOT] * 4, 0, "incomplete"),
        # The sample was not complete when it failed: two spots of five were never measured.
        ([SPOT] * 2, 1, "incomplete"),
        # 4 × 55 µm: each above 80 % of 60 µm, their mean below 60 µm.
        ([[55, 55, 55]] * 4, 1, "fail"),
        ([SPOT] * 3 + [[47, 47, 47]], 1, "fail"),
    ],
)
def test_an_area_of_pa2_is_judged_by_the_spots_that_remain(spots: list[list[int]], left_out: int, verdict: str) -> None:
    areas = [{"name": "area 1", "spots_um": spots, "left_out": left_out}]
    assert calculate("dft-pa2", {**PA2, "areas": areas, "areas_to_measure": 1})["verdict"] == verdict


@pytest.mark.parametrize(
    ("rule", "inputs", "asked", "fewest"),
    [
        # 10 readings on 1 to 3 m² by ISO 19840; 5 is the least of its table. IMO: three are the fewest judged.
        ("dft-iso19840", {"nominal_um": 100, "area_m2": 3}, 10, 5),
        ("dft-imo-pspc", {"nominal_um": 100, "readings_required": 20}, 20, 3),
        ("dft-custom", {"rule": "Yard", "minimum_mean_um": 90, "plan": [{"up_to_m2": 10, "readings": 8}], "area_m2": 9},
         8, 1),
    ],
)  # fmt: skip
def test_readings_within_the_part_are_not_asked_for_again(
    rule: str, inputs: dict[str, object], asked: int, fewest: int
) -> None:
    def verdict(readings: int, left_out: int) -> object:
        return calculate(rule, {**inputs, "readings_um": [110] * readings, "left_out": left_out})["verdict"]

    assert (verdict(asked, 0), verdict(asked - 1, 0), verdict(asked - 1, 1)) == ("pass", "incomplete", "pass")
    assert verdict(asked - 3, 2) == "incomplete"
    assert verdict(fewest, asked - fewest) == "pass"
    if fewest > 1:
        assert verdict(fewest - 1, asked - fewest + 1) == "incomplete"
