"""The published table is up to date, and says what was promised."""

from __future__ import annotations

from inspection.standards import all_calculations
from tests.reference.__main__ import DOCUMENT
from tests.reference.table import all_checks, as_document, publications_of


def test_the_document_is_up_to_date() -> None:
    written = DOCUMENT.read_text(encoding="utf-8")
    assert written == as_document(all_checks()), "run: python -m tests.reference"


def test_there_are_150_checks_from_20_sources() -> None:
    checks = all_checks()
    assert len(checks) >= 150
    assert len(publications_of(checks)) >= 20


def test_every_calculation_has_a_check() -> None:
    checked = {check.calculation for check in all_checks()}
    assert not {known.name for known in all_calculations()} - checked
