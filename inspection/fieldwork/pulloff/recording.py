"""Storing pull-off tests: strengths and places of failure as read, judged by what the contract declares."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Any

from inspection.fieldwork.pulloff.models import PullOffRecord
from inspection.fieldwork.tested import AsTested, Unjudged
from inspection.foundation.refusals import Fault, Refused
from inspection.instruments.models import Gauge
from inspection.standards import InputFault, calculate
from inspection.standards.adhesion import glue_share_pct
from inspection.standards.pull_off_field import KPA_PER_PSI, METHODS, loading_doubt, remembered_number
from inspection.standards.units import exact, plain

LIMITS = ("minimum_mean_mpa", "minimum_single_mpa")
# The number of tests by area is remembered only, so that it asks and never judges.
BY_AREA = METHODS[0]


def strength_mpa(test: dict[str, Any]) -> Fraction:
    """As read, or from psi (1 psi is 6.894757293168 kPa by definition)."""
    if "strength_mpa" in test:
        return exact(test["strength_mpa"])
    return exact(test["strength_psi"]) * KPA_PER_PSI / 1000


def in_order(test: dict[str, Any]) -> list[tuple[str, float]]:
    """Each failure and its share in %, from the steel outward: a database may keep names in any order."""
    return sorted(test["failures_pct"].items())


def shares(test: dict[str, Any]) -> dict[str, Fraction]:
    return {code: exact(share) for code, share in test["failures_pct"].items()}


def _faults(record: PullOffRecord) -> Iterable[Fault]:
    """Shares that do not add to 100 %, a strength in two units or in none."""
    for row, test in enumerate(record.observed.get("tests", ()), start=1):
        if ("strength_mpa" in test) == ("strength_psi" in test):
            yield Fault("Give the strength in MPa or in psi, one of the two.", "tests", row)
            continue
        if not 0 < strength_mpa(test) <= 1000:
            yield Fault("A strength lies above 0 and at most 1000 MPa.", "tests", row)
        try:
            calculate("adhesion-pull-off", {"failures_pct": test.get("failures_pct", {})})
        except InputFault as wrong:
            yield from (Fault(fault.message, "tests", row) for fault in wrong.faults)
    if record.observed.get("method") not in METHODS:
        yield Fault(f"Give one of {', '.join(METHODS)}.", "method")
    if not record.observed.get("tests"):
        yield Fault("Give the tests, a place and a strength each.", "tests")


def _given(record: PullOffRecord) -> tuple[str, dict[str, Any]]:
    sent = record.observed
    limits = {name: sent[name] for name in LIMITS if name in sent}
    if not limits:
        raise Unjudged("No strength of the contract was given, so the tests were not judged.")
    tests = [{"strength_mpa": plain(strength_mpa(test)), "glue_share_pct": plain(glue_share_pct(shares(test)))}
             for test in sent["tests"]]  # fmt: skip
    if "greatest_glue_share_pct" not in sent and any(test["glue_share_pct"] for test in tests):
        raise Refused(
            "A test failed partly in or at the glue: give the share above which the contract takes a low test for no "
            "result.",
            field="greatest_glue_share_pct",
        )
    used = sent.get("used_instrument", "")
    contract = sent.get("contract_instrument", "" if sent["method"] == BY_AREA else used)
    if not contract:
        raise Unjudged("ISO 16276-1 judges only where the contract names the instrument too; none was given.")
    kept = ("tests_wanted", "steel_mm", "steel_stiffened")
    return "pull-off-acceptance", {
        **limits, **{name: sent[name] for name in kept if name in sent}, "method": sent["method"], "tests": tests,
        "greatest_glue_share_pct": sent.get("greatest_glue_share_pct", 100), "contract_instrument": contract,
        "used_instrument": used,
    }  # fmt: skip


def _figures(record: PullOffRecord) -> None:
    record.method = record.observed["method"]
    record.reading_count = len(record.observed["tests"])
    if record.calculation:
        mean, lowest = record.result.get("mean_mpa"), record.result.get("lowest_mpa")
    else:
        found = [strength_mpa(test) for test in record.observed["tests"] if not glue_share_pct(shares(test))]
        mean, lowest = (sum(found, Fraction(0)) / len(found), min(found)) if found else (None, None)
    record.mean_kpa, record.lowest_kpa = (None if one is None else round(one * 1000) for one in (mean, lowest))


def _doubts(record: PullOffRecord) -> Iterable[Fault]:
    """A load put on too fast or too slowly, fewer tests than remembered for the area, a film not cured."""
    sent = record.observed
    for row, test in enumerate(sent["tests"], start=1):
        if "seconds" in test and (doubt := loading_doubt(strength_mpa(test), exact(test["seconds"]))):
            yield Fault(f"Test {row}: {doubt}", "tests", row)
    wanted = sent.get("tests_wanted")
    number = remembered_number(exact(record.area.area_m2))
    if sent["method"] == BY_AREA and wanted and wanted < number:
        yield Fault(
            f"{wanted} tests are asked for. For {float(record.area.area_m2):g} m² ISO 16276-1 is remembered to "
            f"ask for {number} (from memory, not verified); the contract says.",
            "tests_wanted",
        )


PULL_OFF = AsTested(
    model=PullOffRecord, title="pull-off test", instrument=Gauge.Kind.ADHESION, given=_given, figures=_figures,
    faults=_faults, doubts=_doubts,
)  # fmt: skip
