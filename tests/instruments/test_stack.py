"""A stack whose certificates state different coverage factors, as the standards core is given it."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from inspection.instruments.stack import stack_input
from inspection.standards import calculate


@dataclass(frozen=True)
class Stated:
    value_nm: int
    expanded_uncertainty_nm: int
    coverage_factor: float


def test_uncertainties_at_different_k_are_brought_to_one_k_before_they_are_combined() -> None:
    # JCGM 100:2008, 6.2.1 and 5.1.2: u = U/k; independent ones add in squares. From memory; arithmetic by hand:
    # u = 1.0/2 = 0.5 and 1.5/3 = 0.5 µm, together 0.7071, at k = 2: 1.4142 µm.
    given = stack_input([Stated(250_000, 1_000, 2), Stated(50_000, 1_500, 3)])
    assert given == {"certified_um": [250, 50], "expanded_uncertainty_um": [1, 1.0], "coverage_factor": 2.0}
    stack = calculate(
        "shim-stack",
        {
            "shims_um": given["certified_um"],
            "expanded_uncertainty_um": given["expanded_uncertainty_um"],
            "coverage_factor": given["coverage_factor"],
        },
    )
    assert stack["stack_um"] == 300
    assert stack["expanded_uncertainty_um"] == pytest.approx(1.4142, abs=0.0001)


def test_uncertainties_at_one_k_are_passed_on_as_stated() -> None:
    given = stack_input([Stated(124_700, 900, 2), Stated(50_300, 800, 2)])
    assert given["expanded_uncertainty_um"] == [0.9, 0.8]
