"""What people may choose how to hear of: by a letter at once, in one letter an hour, or on the pages only.

Whatever concerns the security of an account (invitation, password, sign-in, second factor) is no tiding: it is written
by `post.write`, and goes at once to everybody. So do letters that fix what was signed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from accounts import journal, post
from accounts.digests import DIGEST, subject_of
from accounts.models import Letter, Person, PostChoice, Tiding
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.text import on_one_line

Way = PostChoice.Way


@dataclass(frozen=True)
class Kind:
    """A kind of thing that is told: its name as it is kept, its words, and how whoever chose nothing hears of it."""

    name: str
    words: str
    way: str


# A letter at once for each of 400 points would hide the one that matters; a release that lost its ground is that one.
KINDS = (
    Kind("point-ready", "A point is ready for you", Way.DIGEST),
    Kind("presented-again", "A point is presented to you again", Way.DIGEST),
    Kind("refused", "A point was refused", Way.DIGEST),
    Kind("released-in-doubt", "A release of yours is in doubt", Way.AT_ONCE),
    Kind("nonconformance-raised", "A nonconformance is open, or a draft waits to be issued", Way.DIGEST),
    Kind("nonconformance-aged", "A nonconformance stays open, or its corrective action is overdue", Way.DIGEST),
    # An appointment is for its hour; one that comes an hour late may come after it.
    Kind("notice", "An inspection is notified, moved or withdrawn", Way.AT_ONCE),
    # Half an hour before: an hour later it would come too late.
    Kind("due-soon", "A check after work or a climate reading falls due", Way.AT_ONCE),
)
BY_NAME = {kind.name: kind for kind in KINDS}


@dataclass(frozen=True)
class News:
    """One thing that one person is to be told: `about` names it, so that it is told once."""

    about: str
    to: Person
    project: UUID
    subject: str
    body: str
    # An appointment in iCalendar that goes with it, if any.
    calendar: str = ""


def tell(kind: str, about: str, *, to: Person, project: UUID, subject: str, body: str) -> bool:
    """Tell one person of one thing, in the way they chose; False where nothing is written, now or later."""
    return bool(tell_all(kind, [News(about, to, project, subject, body)]))


def tell_all(kind: str, news: Sequence[News]) -> int:
    """Tell each person of each thing, in the way they chose; how many are new, without those for the pages only.

    The caller has asked that the people see the projects. Raises KeyError for a kind that is not on the list.
    """
    usual = BY_NAME[kind].way
    people, things = {each.to.pk for each in news}, {each.about for each in news}
    chosen = dict(PostChoice.objects.filter(person__in=people, kind=kind).values_list("person", "way"))
    told = {
        *Tiding.objects.filter(kind=kind, person__in=people, about__in=things).values_list("person", "about"),
        *Letter.objects.filter(kind=kind, person__in=people, about__in=things).values_list("person", "about"),
    }
    new = [each for each in news if (each.to.pk, each.about) not in told]
    gathered = [each for each in new if chosen.get(each.to.pk, usual) == Way.DIGEST]
    Tiding.objects.bulk_create(
        [
            Tiding(
                kind=kind, about=each.about, person=each.to, project_id=each.project,
                subject=on_one_line(each.subject)[:200], body=each.body, calendar=each.calendar,
            )
            for each in gathered
        ],
        ignore_conflicts=True, batch_size=500,
    )  # fmt: skip
    at_once = [each for each in new if chosen.get(each.to.pk, usual) == Way.AT_ONCE]
    for each in at_once:
        post.write(
            kind, each.about, to=each.to, project=each.project, subject=each.subject, body=each.body,
            calendar=each.calendar,
        )  # fmt: skip
    return len(gathered) + len(at_once)


def ways_of(person: Person) -> dict[str, str]:
    """By the name of each kind, how the person hears of it."""
    chosen = dict(PostChoice.objects.filter(person=person).values_list("kind", "way"))
    return {kind.name: chosen.get(kind.name, kind.way) for kind in KINDS}


@transaction.atomic
def choose(by: Person, *, ways: Mapping[str, str]) -> dict[str, str]:
    """Choose how one hears of the kinds named; the others stay as they are."""
    faults = [
        Fault("There is no such kind of letter." if kind not in BY_NAME else "Choose one of the ways offered.", kind)
        for kind, way in ways.items()
        if kind not in BY_NAME or way not in Way.values
    ]
    if faults:
        raise Refused(faults)
    Person.objects.select_for_update(no_key=True).get(pk=by.pk)
    before = ways_of(by)
    after = before | dict(ways)
    if after != before:
        for kind, way in after.items():
            PostChoice.objects.update_or_create(person=by, kind=kind, defaults={"way": way})
        journal.record("letters.chosen", by, by=by, before=before, after=after)
    return after


def write_digests(at: datetime | None = None) -> int:
    """Gather what waits from before this hour into one letter a person; returns how many letters.

    Run by the scheduler as often as one likes: a letter an hour and person, each thing in one letter only.
    """
    at = at or timezone.now()
    hour = at.replace(minute=0, second=0, microsecond=0)
    waiting = Tiding.objects.waiting().filter(written_at__lt=hour)
    people = Person.objects.filter(pk__in=waiting.order_by().values("person"))
    return sum(_write_digest(person, hour) for person in people)


@transaction.atomic
def _write_digest(person: Person, hour: datetime) -> bool:
    """The person's letter of the hour; their row is held, so that a second worker waits and then finds it done."""
    Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    about = f"{person.pk}:{hour:%Y-%m-%dT%H}Z"
    waiting = Tiding.objects.waiting().filter(person=person, written_at__lt=hour)
    if Letter.objects.filter(kind=DIGEST, about=about).exists() or not waiting.exists():
        return False
    many = waiting.count()
    letter = Letter.objects.create(
        kind=DIGEST, about=about, recipient=person.email, person=person, subject=subject_of(many), body=""
    )
    waiting.update(letter=letter)
    return True
