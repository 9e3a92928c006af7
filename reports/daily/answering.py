"""What the client says of an issued revision: comments, a signature, and taking such a word back."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from accounts import journal, post
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from reports.daily.models import ClientWord, DailyReport, ReportIssue
from reports.daily.reviewing import said

What = ClientWord.What
VERBS = {What.COMMENT: "report.commented", What.SIGNED: "report.signed", What.WITHDRAWN: "report.word_taken_back"}


@transaction.atomic
def comment(by: Person, *, issue: ReportIssue, text: str, at: datetime | None = None) -> ClientWord:
    """Say something of a revision; the same said again by the same person is a Conflict."""
    held = _held(by, issue, to="comment on a daily report")
    if not (text := said(text, "text")):
        raise Refused([Fault("Write the comment.", "text")])
    if any(word.text == text and word.person_id == by.pk for word in that_stand(held) if word.what == What.COMMENT):
        raise Conflict("You have said the same of this revision already.")
    return _keep(by, held, What.COMMENT, text=text, at=at)


@transaction.atomic
def sign(by: Person, *, issue: ReportIssue, text: str = "", at: datetime | None = None) -> ClientWord:
    """Sign the newest revision for the client, with a remark or without; once for each person."""
    held = _held(by, issue, to="sign a daily report")
    later = ReportIssue.objects.filter(report=held.report_id, revision__gt=held.revision)
    if newest := later.order_by("revision").last():
        raise Conflict(f"Revision {held.revision} has been replaced by revision {newest.revision}; sign that one.")
    if any(word.person_id == by.pk for word in that_stand(held) if word.what == What.SIGNED):
        raise Conflict("You have signed this revision already.")
    return _keep(by, held, What.SIGNED, text=said(text, "text"), at=at)


@transaction.atomic
def take_back(by: Person, *, word: ClientWord, reason: str, at: datetime | None = None) -> ClientWord:
    """Take one's own word back; it stays readable, with why."""
    get_object_or_404(ClientWord.objects.visible_to(by), pk=word.pk)
    held = _held(by, word.issue, to="take back what was said of a daily report")
    if not (reason := said(reason, "reason")):
        raise Refused([Fault("Say why.", "reason")])
    if word.person_id != by.pk:
        raise Refused("What somebody else said is theirs to take back.")
    if word.pk not in {each.pk for each in that_stand(held)}:
        raise Conflict("This has been taken back already.")
    return _keep(by, held, What.WITHDRAWN, text=reason, at=at, withdraws=word)


def that_stand(issue: ReportIssue) -> list[ClientWord]:
    """The words on it that nobody took back, oldest first."""
    words = list(issue.words.all())
    taken_back: set[UUID | None] = {word.withdraws_id for word in words}
    return [word for word in words if word.what != What.WITHDRAWN and word.pk not in taken_back]


def _held(by: Person, issue: ReportIssue, *, to: str) -> ReportIssue:
    require(by, Role.CLIENT, to=to)
    found = get_object_or_404(ReportIssue.objects.visible_to(by), pk=issue.pk)
    DailyReport.objects.select_for_update().get(pk=found.report_id)
    return ReportIssue.objects.select_related("report__project", "issued_by").get(pk=issue.pk)


def _keep(
    by: Person, issue: ReportIssue, what: ClientWord.What, *, text: str, at: datetime | None,
    withdraws: ClientWord | None = None,
) -> ClientWord:  # fmt: skip
    word = ClientWord.objects.create(
        issue=issue, what=what, text=text, person=by, signed_as=f"{by.name}, {by.organisation}",
        admitted=by.admission or "", at=at or timezone.now(), withdraws=withdraws,
    )  # fmt: skip
    journal.record(
        VERBS[what], word, by=by, project_id=issue.report.project_id, at=word.at, reason=text,
        before={"word": withdraws.pk} if withdraws else None,
        after={"revision": issue.revision, "file": issue.file_id, "admitted": by.admission},
    )  # fmt: skip
    told = {What.COMMENT: "commented on", What.SIGNED: "signed", What.WITHDRAWN: "took a word back on"}[what]
    subject = f"{word.signed_as} {told} {issue}"
    address = f"{settings.SITE_URL}{reverse('report', args=[issue.report_id])}"
    post.write(
        "report-answered", str(word.pk), to=issue.issued_by, project=issue.report.project_id, subject=subject,
        body=f"{subject}.\n\n{text}\n\n{address}\n" if text else f"{subject}.\n\n{address}\n",
    )  # fmt: skip
    return word
