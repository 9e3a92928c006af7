"""The probability that an area conforms, against JCGM 106, tables of Student's t, SciPy and Monte Carlo (JCGM 101)."""

import math

import numpy as np
import pytest
from scipy import stats

from inspection.standards import InputFault, calculate
from inspection.standards.area_conformance import (
    Film,
    largest_share,
    mean_between,
    more_spots,
    share_at_most,
    share_below,
)
from tests.reference.table import MEMORY, STORED, Check, holds

JCGM = "JCGM 106:2012, 7.3.2 and 7.4, worked example"
TOLERANCE = "One-sided tolerance factors k of a normal sample (as in NIST/SEMATECH e-Handbook, 7.2.6.3 and ISO 16269-6)"
KNOWN = 1_000_000


def known(inputs):
    """A normal distribution: what all spots have in common alone."""
    film = Film(mean=inputs["observed"], scatter=0, count=KNOWN, common_u=inputs["u"])
    return {"probability": mean_between(film, inputs.get("lower"), inputs.get("upper"))}


def example(observed, u, probability, **limits):
    inputs = {"observed": observed, "u": u, **limits}
    return Check("area-conformance", JCGM, STORED, inputs, {"probability": probability}, {"probability": 0.005},
                 compute=known)  # fmt: skip


def by_factor(inputs):
    """A sample whose mean lies k scatters above the limit: the confidence that so great a share reaches it."""
    film = Film(mean=inputs["k"], scatter=1, count=inputs["n"], common_u=0)
    return {"confidence": share_at_most(film, 0, 1 - inputs["content"])}


def factor(n, content, confidence, k):
    return Check("area-conformance", TOLERANCE, MEMORY, {"n": n, "content": content, "k": k},
                 {"confidence": confidence}, {"confidence": 0.0005}, compute=by_factor)  # fmt: skip


CHECKS = [
    # Breakdown of a diode, pressure of a vessel: one limit. Viscosity of an oil: two.
    example(-5.47, 0.05, 0.92, upper=-5.40),
    example(509.7, 8.6, 0.99, lower=490),
    example(13.6, 1.8, 0.66, lower=12.5, upper=16.3),
    factor(10, 0.90, 0.95, 2.355),
    factor(20, 0.90, 0.95, 1.926),
    factor(10, 0.99, 0.95, 3.981),
]
SCATTERED = [(count, apart) for count in (2, 3, 5, 30, 300, 100_000) for apart in (-2.5, 0.3, 4.0)]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_probability_agrees_with_its_source(check):
    holds(check)


@pytest.mark.parametrize(("count", "apart"), SCATTERED)
def test_spots_alone_are_students_t_and_a_share_of_them_the_noncentral_t(count, apart):
    film = Film(mean=100 + apart * 8 / math.sqrt(count), scatter=8, count=count, common_u=0)
    assert mean_between(film, 100, None) == pytest.approx(stats.t.cdf(apart, count - 1), abs=1e-6)
    assert mean_between(film, None, 100) == pytest.approx(stats.t.sf(apart, count - 1), abs=1e-6)
    z = stats.norm.ppf(0.8)
    of_share = Film(mean=100 + z * 8 + apart * 8 / math.sqrt(count), scatter=8, count=count, common_u=0)
    wanted = stats.nct.cdf(apart + z * math.sqrt(count), count - 1, z * math.sqrt(count))
    assert share_at_most(of_share, 100, 0.2) == pytest.approx(wanted, abs=1e-6)


@pytest.mark.parametrize(("count", "common"), [(5, 0.5), (5, 6.0), (12, 3.0)])
def test_spots_with_a_common_part_agree_with_monte_carlo(count, common):
    """JCGM 101: 400,000 draws of the scatter, the mean of the spots and what they have in common, seed fixed."""
    film = Film(mean=255, scatter=8, count=count, common_u=common)
    draw = np.random.default_rng(106)
    sigma = film.scatter * np.sqrt((count - 1) / draw.chisquare(count - 1, 400_000))
    mean = film.mean + draw.normal(size=sigma.size) * sigma / math.sqrt(count) + draw.normal(size=sigma.size) * common
    assert mean_between(film, 250, 262) == pytest.approx(np.mean((mean >= 250) & (mean <= 262)), abs=0.004)
    below = stats.norm.cdf((250 - mean) / sigma)
    assert share_at_most(film, 250, 0.25) == pytest.approx(np.mean(below <= 0.25), abs=0.004)
    assert share_below(film, 250) == pytest.approx(np.mean(below), abs=0.004)
    assert largest_share(film, 250) == pytest.approx(np.quantile(below, 0.95), abs=0.006)


def test_more_spots_are_the_fewest_that_settle_it_and_none_where_the_common_part_alone_leaves_it_open():
    def reaches(film):
        return mean_between(film, 250, None)

    film = Film(mean=253, scatter=8, count=5, common_u=0)
    more = more_spots(film, reaches)
    assert more is not None
    settled = [stats.t.cdf(3 * math.sqrt(n) / 8, n - 1) >= 0.95 for n in (5 + more - 1, 5 + more)]
    assert settled == [False, True]
    assert more_spots(Film(mean=270, scatter=8, count=5, common_u=0), reaches) == 0
    assert more_spots(Film(mean=253, scatter=8, count=5, common_u=3), reaches) is None


def test_the_error_of_the_gauge_is_corrected_for_and_the_certificate_divided_by_its_factor():
    given = {"spots_um": [250, 254, 246], "mean_minimum_um": 250, "correction_um": 10, "gauge_checks": [
        {"certified_um": 100, "expanded_uncertainty_um": 3, "coverage_factor": 2, "readings_um": [102, 102, 102]},
        {"certified_um": 500, "expanded_uncertainty_um": 1, "readings_um": [504, 504, 504]}]}  # fmt: skip
    answer = calculate("area-conformance", given)
    assert answer["gauge_error_um"] == 3
    assert answer["mean_um"] == 237
    parts = {part["name"]: part["standard_uncertainty_um"] for part in answer["budget"]}
    assert parts["certificate of the standard"] == 1.5
    assert parts["errors between standards and checks"] == pytest.approx(1 / math.sqrt(3))
    assert parts["scatter of 3 spots"] == pytest.approx(4 / math.sqrt(3))


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"spots_um": [250]}, "spots_um", "at least two spots"),
        ({"mean_minimum_um": None}, "mean_minimum_um", "give a limit"),
        ({"share_allowed_pct": 20}, "share_limit_um", "is missing"),
        ({"mean_maximum_um": 240}, "mean_maximum_um", "must not be below"),
        ({"gauge_accuracy_um": 0}, "gauge_checks", "in their place"),
    ],
)
def test_what_is_missing_is_named(changed, field, words):
    given = {"spots_um": [250, 260], "mean_minimum_um": 245, "gauge_accuracy_um": 2} | changed
    with pytest.raises(InputFault) as refused:
        calculate("area-conformance", {name: value for name, value in given.items() if value is not None})
    (fault,) = refused.value.faults
    assert fault.field == field
    assert words in fault.message
