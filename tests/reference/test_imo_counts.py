"""Counts of readings against IMO MSC.215(82), annex 3."""

import pytest

from tests.reference.table import STORED, Check, holds

ANNEX = "IMO MSC.215(82) annex 3 (full passage): "
STARTED = "; each part begun counts"


def counted(what, given, least, most):
    expected = {"least_readings": least, "most_readings": most}
    return Check("dft-imo-counts", ANNEX + what + STARTED, STORED, given, expected)


def flat(area, count):
    return counted("one for 5 m² of flat surface", {"flat_m2": [area]}, count, count)


def boundary(length, least, most):
    return counted("one every 2 to 3 m of a boundary", {"boundaries_m": [length]}, least, most)


def stiffener(length, least):
    check = counted("two a set, at least two sets between primary members", {"stiffeners_m": [length]}, least, 0)
    return Check(check.calculation, check.source, STORED, check.inputs, {"least_readings": least})


def primary(length, least):
    check = counted("three a set, at least three sets", {"primary_members_m": [length]}, least, 0)
    return Check(check.calculation, check.source, STORED, check.inputs, {"least_readings": least})


def complex_(area, count):
    return counted("five a square metre, at least three", {"complex_m2": [area]}, count, count)


CHECKS = [
    *(flat(area, count) for area, count in ((4, 1), (5, 1), (5.1, 2), (12, 3), (120, 24))),
    *(boundary(*row) for row in ((3, 1, 2), (4, 2, 2), (6, 2, 3), (9.1, 4, 5), (12, 4, 6))),
    *(stiffener(length, count) for length, count in ((2, 4), (6, 4), (9, 6), (12, 8))),
    *(primary(length, count) for length, count in ((2, 9), (9, 9), (12, 12))),
    *(complex_(area, count) for area, count in ((0.3, 3), (0.6, 3), (1, 5), (1.2, 6))),
    counted("one on each side of an opening", {"openings": 3, "sides_of_an_opening": 2}, 6, 6),
    counted("all of a tank", {"flat_m2": [12, 12], "boundaries_m": [6, 6], "stiffeners_m": [2], "complex_m2": [0.3],
                              "spot_checks": 2}, 6 + 4 + 4 + 3 + 2, 6 + 6 + 4 + 3 + 2),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check):
    holds(check)
