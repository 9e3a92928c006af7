"""Looking at what has come up against an issued revision and letting it stand, with a reason; and taking that back."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.shortcuts import get_object_or_404
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from reports.daily.against import doubts_of
from reports.daily.models import DailyReport, ReportIssue, SetAside

LONGEST_REASON = 2000


def seen_of(doubts: list[str]) -> str:
    """What somebody had before them when they decided: the digest of the sentences on the page."""
    return journal.digest_of(doubts)


@transaction.atomic
def set_aside(by: Person, *, issue: ReportIssue, reason: str, seen: str, at: datetime | None = None) -> SetAside:
    """Let the newest revision stand although something has come up; what comes up later asks again.

    Raises Conflict where something else has come up than what was on the page, Refused where nothing has.
    """
    doubts = _looked_at(by, issue)
    if not doubts:
        raise Refused(f"Nothing has come up against revision {issue.revision}; there is nothing to set aside.")
    if seen != seen_of(doubts):
        raise Conflict("Something else has come up since this page was shown; look at it before you set it aside.")
    at = at or timezone.now()
    return _recorded(by, issue, reason, at, covers_until=at, verb="report.set_aside")


@transaction.atomic
def take_back(by: Person, *, issue: ReportIssue, reason: str, at: datetime | None = None) -> SetAside:
    """Have the revision looked at again: what was set aside is among the decisions as before."""
    _looked_at(by, issue)
    last = issue.set_asides.last()
    if last is None or last.covers_until is None:
        raise Refused(f"Nothing is set aside of revision {issue.revision}.")
    return _recorded(by, issue, reason, at or timezone.now(), covers_until=None, verb="report.set_aside_taken_back")


def _looked_at(by: Person, issue: ReportIssue) -> list[str]:
    """What stands against the issue; it is held, so that two people do not decide at once."""
    require(by, Role.QUALITY_MANAGER, to="set aside what has come up against a report")
    get_object_or_404(ReportIssue.objects.visible_to(by), pk=issue.pk)
    DailyReport.objects.select_for_update().get(pk=issue.report_id)
    if ReportIssue.objects.filter(report=issue.report_id, revision__gt=issue.revision).exists():
        raise Conflict(f"Revision {issue.revision} has been replaced meanwhile; look at the newest one.")
    return doubts_of([issue])[issue.pk]


def _recorded(
    by: Person, issue: ReportIssue, reason: str, at: datetime, *, covers_until: datetime | None, verb: str
) -> SetAside:
    reason = reason.strip()
    if not reason:
        raise Refused([Fault("Say why.", "reason")])
    if len(reason) > LONGEST_REASON:
        raise Refused([Fault(f"Give the reason in at most {LONGEST_REASON} characters.", "reason")])
    row = SetAside.objects.create(issue=issue, by=by, at=at, covers_until=covers_until, reason=reason)
    journal.record(verb, issue, by=by, project_id=issue.report.project_id, at=at, reason=reason)
    return row
