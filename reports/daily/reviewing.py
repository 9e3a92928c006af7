"""Looking a draft through before it is issued: by somebody who wrote nothing of the day, and taking that back."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.shortcuts import get_object_or_404
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.diary.models import DiaryEntry
from inspection.fieldwork.models import Record
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.instruments.models import Verification
from reports.daily.diary import PRINTED
from reports.daily.facts import DayFacts
from reports.daily.gathering import gather
from reports.daily.models import DailyReport, Review

REVIEWERS = (Role.QUALITY_MANAGER, Role.INSPECTOR)
LONGEST_NOTE = 2000


def writers_of(report: DailyReport) -> set[UUID]:
    """Who wrote what the report tells: whoever recorded, checked a gauge, or entered into the diary what it prints."""
    begins, ends = report.project.day_bounds(report.day)
    rows: list[Any] = [
        model.objects.filter(project=report.project, taken_at__gte=begins, taken_at__lt=ends).values_list("taken_by")
        for model in (Record, Verification)
    ]
    printed = DiaryEntry.objects.that_count().filter(project=report.project, day=report.day, kind__in=PRINTED)
    rows.append(printed.values_list("entered_by"))
    return {pk for each in rows for (pk,) in each.order_by().distinct()}


def standing(reviews: Iterable[Review], digest: str) -> Review | None:
    """The last that nobody took back and that looked at these facts."""
    known = list(reviews)
    taken_back = {review.withdraws_id for review in known}
    of_facts = [each for each in known if each.facts_digest == digest and not each.withdraws_id]
    return next((each for each in reversed(of_facts) if each.pk not in taken_back), None)


@transaction.atomic
def review(by: Person, *, report: DailyReport, seen: str, note: str = "", at: datetime | None = None) -> Review:
    """Say that the draft was looked through; `seen` is the digest of its facts as the person had them before them.

    Raises Refused for whoever wrote something of the day, Conflict where the facts are others by now, or where somebody
    has reviewed or issued them already.
    """
    held = held_to_review(by, report, to="review a daily report")
    note = said(note, "note")
    if held.draft_id is None:
        raise Refused("The draft has not been built yet; build it, look at it, then review it.")
    facts = gather(held.project, held.day)
    if facts.digest != held.facts_digest or seen != facts.digest:
        raise Conflict(
            "The records have changed since this draft was built; build it again and look before you review."
        )
    if done := standing(held.reviews.all(), facts.digest):
        raise Conflict(f"{done.by_name} has reviewed it already, with the same facts.")
    return keep_review(by, held, facts, note=note, at=at or timezone.now())


@transaction.atomic
def take_review_back(by: Person, *, report: DailyReport, reason: str, at: datetime | None = None) -> Review:
    """Take the review of the draft back, while nothing was issued on it: by whoever gave it, or a quality manager."""
    held = held_to_review(by, report, to="take a review back")
    if not (reason := said(reason, "reason")):
        raise Refused([Fault("Say why.", "reason")])
    last = standing(held.reviews.all(), held.facts_digest)
    if last is None:
        raise Refused("No review of this draft stands.")
    if held.issues.filter(facts_digest=last.facts_digest).exists():
        raise Conflict("What was reviewed has been issued; what is wrong in it is put right by a further revision.")
    if by.pk != last.by_id and not by.has_role(Role.QUALITY_MANAGER):
        raise Refused(f"{last.by_name} gave this review; it is theirs or a quality manager’s to take back.")
    row = Review.objects.create(
        report=held, facts_digest=last.facts_digest, by=by, at=at or timezone.now(), note=reason, withdraws=last
    )
    journal.record(
        "report.review_taken_back", row, by=by, project_id=held.project_id, at=row.at, reason=reason,
        before={"review": last.pk, "facts": last.facts_digest},
    )  # fmt: skip
    return row


def held_to_review(by: Person, report: DailyReport, *, to: str) -> DailyReport:
    """The report, held, so that two people do not decide of it at once."""
    require(by, *REVIEWERS, to=to)
    get_object_or_404(DailyReport.objects.visible_to(by), pk=report.pk)
    return DailyReport.objects.select_for_update(of=("self",)).select_related("project__client").get(pk=report.pk)


def keep_review(by: Person, held: DailyReport, facts: DayFacts, *, at: datetime, note: str = "") -> Review:
    """Keep that the person looked at these facts. Raises Refused where they wrote something of the day."""
    if by.pk in writers_of(held):
        raise Refused(
            "You recorded or entered something of this day, so somebody else has to look the draft through: another "
            "inspector of the project, or a quality manager."
        )
    row = Review.objects.create(report=held, facts_digest=facts.digest, by=by, at=at, note=note)
    journal.record(
        "report.reviewed", row, by=by, project_id=held.project_id, at=at, reason=note, after={"facts": facts.digest}
    )
    return row


def said(text: str, field: str) -> str:
    """What was written, without blanks around it. Raises Refused where it is too long."""
    text = text.strip()
    if len(text) > LONGEST_NOTE:
        raise Refused([Fault(f"This has {len(text)} characters; at most {LONGEST_NOTE} can be kept.", field)])
    return text
