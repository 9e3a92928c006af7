"""Holiday test voltages and methods against standards and an instrument handbook."""

import pytest

from inspection.standards import InputFault, calculate
from tests.reference.table import COMPUTED, MEMORY, STORED, Check, from_vectors, holds

GOST = "GOST 34395-2018 Annex DB: 3294 and 7843 × √mm, jump at 1.00 mm"
HANDBOOK = "Instrument handbook: 2 mm of PVC of 8.4 kV/mm, tested at 11.18 kV, bears 16.8 kV"
MIL = "MIL-HDBK-1110, 10.3.13.2: 100 V per mil above 20 mil, up to 30 kV"
G62 = "ASTM G62: 525 × √mil to about 41 mil, 1250 × √mil above"
SP0188 = "NACE SP0188-2006, suggested voltages, rows in whole mils"
# The end of every row, and the beginning of the next.
SP0188_MILS = (
    (8, 1500), (11, 1500), (12, 2000), (15, 2000), (16, 2500), (20, 2500), (21, 3000), (40, 3000), (41, 4000),
    (55, 4000), (56, 6000), (80, 6000), (81, 10_000), (125, 10_000), (126, 15_000), (185, 15_000),
)  # fmt: skip
D5162 = "ASTM D5162-21: wet sponge to 0.5 mm (20 mil)"

CHECKS = [
    *from_vectors("holiday-voltage"),
    *from_vectors("holiday-method"),
    Check("holiday-voltage", GOST, STORED, {"dry_film_um": 1000, "standard": "M-sqrt-mm"},
          {"voltage_v": 3294, "other_branch_voltage_v": 7843}),
    Check("holiday-voltage", GOST, STORED, {"dry_film_um": 1001, "standard": "M-sqrt-mm"},
          {"voltage_v": 7847, "branch": "7843 × √mm, above 1 mm"}, {"voltage_v": 1}),
    Check("holiday-voltage", HANDBOOK, STORED,
          {"dry_film_um": 2000, "standard": "NACE SP0274", "dielectric_strength_kv_per_mm": 8.4},
          {"voltage_v": 11180, "most_the_film_bears_v": 16800, "verdict": "pass"}, {"voltage_v": 100},
          "250 × √µm there is 1250 × √mil rounded"),
    Check("holiday-voltage", HANDBOOK, STORED,
          {"dry_film_um": 2000, "standard": "NACE SP0274", "dielectric_strength_kv_per_mm": 8.4,
           "thinnest_film_um": 1300}, {"most_the_film_bears_v": 10920, "verdict": "fail"},
          note="a place of 1.3 mm does not bear the voltage for 2 mm"),
    Check("holiday-voltage", MIL, STORED, {"dry_film_mil": 300, "standard": "MIL-HDBK-1110"}, {"voltage_v": 30_000}),
    Check("holiday-voltage", G62, MEMORY, {"dry_film_mil": 16, "standard": "ASTM G62"}, {"voltage_v": 2100}),
    Check("holiday-voltage", G62, MEMORY, {"dry_film_mil": 64, "standard": "ASTM G62"}, {"voltage_v": 10_000}),
    Check("holiday-voltage", G62 + "; same form as GOST 34395", STORED, {"dry_film_um": 500, "standard": "ASTM G62"},
          {"voltage_v": 2329.2}, {"voltage_v": 1}),
    *(Check("holiday-voltage", SP0188, MEMORY, {"dry_film_mil": film, "standard": "NACE SP0188"},
            {"voltage_v": volts, "edition": "2006"}) for film, volts in SP0188_MILS),
    Check("holiday-voltage", "Film of 0.25 mm at 8 kV/mm bears 2000 V: 2.1 kV is not offered", COMPUTED,
          {"dry_film_um": 406.4, "thinnest_film_um": 250, "standard": "ASTM G62", "dielectric_strength_kv_per_mm": 8},
          {"most_the_film_bears_v": 2000, "verdict": "fail"}),
    Check("holiday-method", D5162, STORED, {"dry_film_mil": 19.5}, {"method": "low voltage"}),
    Check("holiday-method", D5162, STORED, {"dry_film_mil": 20.5}, {"method": "high voltage"}),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check):
    holds(check)


def test_the_table_of_sp0188_is_never_interpolated():
    """NACE SP0188 (from memory): 1500 V to 280 µm, 2000 V from 300 µm; nothing in between."""
    with pytest.raises(InputFault, match=r"280 µm, 1500 V\) and 12 to 15 mil \(300"):
        calculate("holiday-voltage", {"dry_film_um": 290, "standard": "NACE SP0188"})


@pytest.mark.parametrize("film_mil", [7, 11.5, 20.5, 40.5, 80.5, 186])
def test_between_and_beyond_its_rows_sp0188_names_no_voltage(film_mil):
    with pytest.raises(InputFault, match="dry_film_mil: "):
        calculate("holiday-voltage", {"dry_film_mil": film_mil, "standard": "NACE SP0188"})


def test_the_edition_of_sp0188_is_told_and_its_revision_named_as_unknown():
    answer = calculate("holiday-voltage", {"dry_film_mil": 15, "standard": "NACE SP0188"})
    assert "revised in January 2024; its table is not known here" in answer["notes"][0]


@pytest.mark.parametrize("film_mil", [20, 301])
def test_the_rule_of_thumb_stays_in_its_range(film_mil):
    """MIL-HDBK-1110, 10.3.13.2: high voltage above 20 mil and up to 30 kV."""
    with pytest.raises(InputFault, match="dry_film_mil"):
        calculate("holiday-voltage", {"dry_film_mil": film_mil, "standard": "MIL-HDBK-1110"})


def test_every_answer_carries_its_caution():
    for standard in ("M-sqrt-mm", "ASTM G62", "NACE SP0274", "MIL-HDBK-1110"):
        answer = calculate("holiday-voltage", {"dry_film_um": 900, "standard": standard})
        assert "not a permission" in answer["caution"]
        assert answer["verdict"] == "not judged"
