"""From an issued report down to the shims, and from a shim up to the report."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import DatabaseError, transaction

from accounts.models import Person
from inspection.trace import queries as trace
from inspection.trace.kinds import kind_named
from reports.daily import actions
from reports.daily.models import Basis, ReportIssue
from tests.cast import Cast
from tests.reports.day import CLOSING, decide, point, worked
from tests.reports.test_issue import built


@pytest.fixture
def issue(cast: Cast) -> ReportIssue:
    record = worked(cast)
    decide(cast, point(cast, cast.site.area, 1), "released", CLOSING, record)
    return actions.issue_report(cast.quinn, report=built(cast))


def found(direction: Any, thing: Any, name: str, person: Person) -> dict[str, set[str]]:
    kind = kind_named(name)
    assert kind is not None
    return {layer.kind.name: {node.row.title for node in layer.nodes} for layer in direction(thing, kind, person)}


def test_a_report_leads_down_to_records_checks_shims_and_certificates(cast: Cast, issue: ReportIssue) -> None:
    below = found(trace.rests_on, issue, "report", cast.audrey)
    assert {"thickness", "climate", "verification", "holdpoint", "standard", "certificate", "gauge"} <= set(below)
    assert {"S-50", "S-125", "S-250"} <= below["standard"]
    assert below["certificate"] == {"CG-1", "CS-1"}


def test_a_shim_leads_up_to_the_issued_report(cast: Cast, issue: ReportIssue) -> None:
    above = found(trace.rests_on_it, cast.shims[125], "standard", cast.audrey)
    assert above["report"] == {"Daily report P-1 2026-03-04 revision 1"}


def test_a_shim_that_was_not_used_leads_to_no_report(cast: Cast, issue: ReportIssue) -> None:
    assert "report" not in found(trace.rests_on_it, cast.shims[500], "standard", cast.quinn)


def test_a_report_is_found_by_the_digest_of_its_file(cast: Cast, issue: ReportIssue) -> None:
    (layer,) = trace.search(issue.file_id, cast.audrey)
    assert [node.pk for node in layer.nodes] == [issue.pk]


def test_a_stranger_does_not_find_the_report(cast: Cast, issue: ReportIssue) -> None:
    assert trace.search(issue.file_id, cast.carl) == []
    assert trace.find("report", issue.pk, cast.carl) is None


@pytest.mark.parametrize("change", ["update", "delete"])
def test_what_an_issue_rests_on_is_fixed_with_it(issue: ReportIssue, change: str) -> None:
    rows = Basis.objects.filter(issue=issue)
    before = rows.count()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        rows.update(kind="climate") if change == "update" else rows.delete()
    assert rows.count() == before
