"""Looking a draft through before it is issued: by somebody who wrote nothing of the day, and taking that back."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.shortcuts import get_object_or_404
from django.utils import timezone

from accounts import journal
from accounts.models import Organisation, Person, Role, RoleGrant
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.projects.queries import who_sees
from reports.daily.diary import writers_in
from reports.daily.facts import DayFacts
from reports.daily.gathering import gather
from reports.daily.models import DailyReport, ReportIssue, Review
from reports.daily.parts import parts_of

REVIEWERS = (Role.QUALITY_MANAGER, Role.INSPECTOR)
LONGEST_NOTE = 2000
MOST_NAMED = 3


def writers_of(report: DailyReport) -> set[UUID]:
    """Who wrote what the report tells: whoever recorded, checked a gauge, or entered into the diary what it prints."""
    part = next((each for each in parts_of(report.project, report.day) if each.name == report.part), None)
    # Of a shift that the project has no more there is nothing to write, nor to issue.
    return writers_in(report.project, report.day, part) if part else set()


def standing(reviews: Iterable[Review], digest: str) -> Review | None:
    """The last that nobody took back and that looked at these facts."""
    known = list(reviews)
    taken_back = {review.withdraws_id for review in known}
    of_facts = [each for each in known if each.facts_digest == digest and not each.withdraws_id]
    return next((each for each in reversed(of_facts) if each.pk not in taken_back), None)


def review_of(issue: ReportIssue) -> Review | None:
    """Who had looked the revision through when it was issued, as its paper says; it comes from `reports_seen_by`."""
    before = [review for review in issue.report.reviews.all() if review.at <= issue.issued_at]
    return None if issue.not_reviewed else standing(before, issue.facts_digest)


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
    facts = gather(held.project, held.day, held.part)
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
    held = DailyReport.objects.select_for_update(of=("self",)).select_related("project__client").get(pk=report.pk)
    refuse_overtaken(held)
    return held


def refuse_overtaken(report: DailyReport) -> None:
    """Raise Conflict where the day has been divided into other papers since the report was looked at."""
    if report.overtaken_at:
        raise Conflict(f"{report.project.code}, {report.day:%Y-%m-%d}, is reported in other papers now; look at those.")


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


def who_else_may_review(report: DailyReport, writers: Collection[UUID]) -> list[Person]:
    """The company's people who see the project, may review, and wrote nothing of what the report tells, by name."""
    grants = RoleGrant.objects.filter(role__in=REVIEWERS, ended_at=None).values("person")
    able = Person.objects.filter(pk__in=grants, is_active=True, organisation__kind=Organisation.Kind.COMPANY)
    found = list(able.exclude(confirmed_at=None).exclude(pk__in=writers).order_by("name", "pk"))
    seen = who_sees([person.pk for person in found], [report.project_id])
    return [person for person in found if (person.pk, report.project_id) in seen]


def without_review(by: Person, report: DailyReport, why: str) -> str:
    """The reason for issuing what only its writers have looked through; empty where issuing it is a review itself.

    Raises Refused where there is somebody who could review it, or where there is nobody and no reason is given.
    """
    writers, why = writers_of(report), said(why, "not_reviewed")
    if by.pk not in writers:
        if why:
            raise Refused(
                [Fault("You wrote nothing of it, so issuing it is the review; leave this empty.", "not_reviewed")]
            )
        return ""
    others = who_else_may_review(report, writers)
    if not others and not why:
        raise Refused([Fault(
            "You recorded or entered something of it, and nobody else here may review it. Say why it is issued without "
            "the review of another person; the paper tells it.", "not_reviewed",
        )])  # fmt: skip
    if others and why:
        names = ", ".join(person.name for person in others[:MOST_NAMED])
        raise Refused([Fault(f"Somebody else can review it: {names}. Ask them.", "not_reviewed")])
    return why


def said(text: str, field: str) -> str:
    """What was written, without blanks around it. Raises Refused where it is too long."""
    text = text.strip()
    if len(text) > LONGEST_NOTE:
        raise Refused([Fault(f"This has {len(text)} characters; at most {LONGEST_NOTE} can be kept.", field)])
    return text
