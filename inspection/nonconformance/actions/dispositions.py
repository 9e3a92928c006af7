"""What is done and decided about a nonconformance: rework, concession, closing by hand, taking an entry back."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.db import transaction
from django.db.models import Q, QuerySet
from django.urls import reverse

from accounts import journal, post
from accounts.guessing import confirm_password
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.foundation.text import line
from inspection.nonconformance.actions.raising import close, done_about, reopen, settle, tell_moved, text_of
from inspection.nonconformance.models import Disposition, Nonconformance
from inspection.nonconformance.queries import kinds_taken_back_by, may_concede, may_take_back
from inspection.nonconformance.sayings import SAYINGS, is_decided, last, last_recorded, not_yet, said_of
from inspection.nonconformance.settling import Measured, facts_of
from inspection.projects.models import InspectionArea, Membership
from inspection.projects.preconditions import in_sight, in_time

Kind = Disposition.Kind
# What the journal tells of an entry beside its text.
TOLD = frozenset({"done_by", "done_at", "covers", "withdraws", "choice", "due", "about"})


@transaction.atomic
def record_rework(
    by: Person, *, nonconformance: Nonconformance, what: str, done_by: str, done_at: datetime
) -> Disposition:
    """Say what was done, by whom and when it was finished; the same again answers with what is stored.

    Raises Refused for a rework of a failing measurement that is said to have been done before it.
    """
    require(by, Role.INSPECTOR, Role.QUALITY_MANAGER, to="record a rework")
    locked = held(by, nonconformance)
    what, done_by = text_of(what, "what"), line(done_by, field="done_by", most=200)
    if not what:
        raise Refused("Say what was done.", field="what")
    if faults := in_time(done_at, "done_at"):
        raise Refused(faults)
    measured = locked.record
    if measured and done_at < measured.ended_at:
        ended = f"{measured.ended_at.astimezone(locked.project.zone):%Y-%m-%d %H:%M}"
        raise Refused(
            f"The measurement that failed ended at {ended}; rework of it was done after that.", field="done_at"
        )
    said = {"kind": Kind.REWORK, "text": what, "done_by": done_by, "done_at": done_at}
    if stored := locked.dispositions.filter(**said, withdrawn_by=None).first():
        return stored
    refuse_closed(locked)
    return add_entry(by, locked, "nonconformance.reworked", **said)


@transaction.atomic
def answer(by: Person, *, nonconformance: Nonconformance, text: str) -> Disposition:
    """Say, for the contractor or the client, what is proposed or what came of it; the quality managers are told.

    It closes nothing: rework, a concession or the facts do. The same again answers with what is stored.
    """
    require(by, Role.CONTRACTOR, Role.CLIENT, to="answer a nonconformance for their party")
    locked = held(by, nonconformance)
    text = text_of(text, "text")
    if not text:
        raise Refused("Say what you propose, or what came of it.", field="text")
    said = {"kind": Kind.ANSWER, "text": text}
    if stored := locked.dispositions.filter(**said, person=by, withdrawn_by=None).first():
        return stored
    refuse_closed(locked)
    given = add_entry(by, locked, "nonconformance.answered", **said)
    _tell(given, f"{by.organisation} answers {locked}", text, of=_managers())
    return given


def concede(by: Person, *, nonconformance: Nonconformance, reason: str, password: str) -> Disposition:
    """Accept it as it is, with a reason and the person's signature; the project's client and managers are told.

    It covers the failing measurements known now. What fails later, or arrives later, is not accepted by it.
    """
    in_sight(by, nonconformance)
    _require_conceder(by, nonconformance)
    reason = text_of(reason, "reason")
    if not reason:
        raise Refused("Say why it is accepted as it is.", field="reason")
    confirm_password(
        by, password, to=f"concede {nonconformance}", so="nothing was decided", project_id=nonconformance.project_id
    )
    with transaction.atomic():
        locked = held(by, nonconformance)
        refuse_closed(locked)
        covers = [str(record.pk) for record in _unanswered(locked)]
        given = add_entry(by, locked, "nonconformance.conceded", kind=Kind.CONCESSION, text=reason, covers=covers)
        _tell(given, f"{locked} is accepted as it is", reason, of=_concerned(locked))
        return given


def _unanswered(locked: Nonconformance) -> list[Measured]:
    """The failing measurements known now, of one that a measurement raised."""
    if not locked.record_id or not locked.area_id or not locked.coat_id:
        return []
    place = (locked.area_id, locked.coat_id)
    return facts_of([place])[place].unanswered


@transaction.atomic
def close_nonconformance(by: Person, *, nonconformance: Nonconformance) -> Disposition:
    """Close one that no measurement raised: once decided, reworked and recorded again, by another than who reworked."""
    require(by, Role.QUALITY_MANAGER, to="close a nonconformance")
    locked = held(by, nonconformance)
    refuse_closed(locked)
    if locked.record_id:
        raise Refused(
            "A measurement raised it: it closes once a rework is recorded and a new measurement passes and is sound, "
            "once the failing one is corrected, or by a concession."
        )
    entries = said_of([locked.pk])[locked.pk]
    recorded = last_recorded([locked.area_id]).get(locked.area_id) if locked.area_id else None
    if faults := not_yet(locked, entries, recorded):
        raise Refused(faults[0])
    rework = last(entries, Kind.REWORK)
    if rework is not None and rework.person_id == by.pk:
        raise Refused("Another person closes it than the one who entered the rework.")
    return add_entry(by, locked, "nonconformance.accepted", kind=Kind.CLOSURE, text="Looked at and closed")


@transaction.atomic
def take_back(by: Person, *, disposition: Disposition, reason: str) -> Disposition:
    """Say that an entry was wrong, with a reason; both stay readable, and what it closed is judged without it."""
    locked = held(by, disposition.nonconformance)
    entry = Disposition.objects.select_related("withdrawn_by", "nonconformance__project").get(pk=disposition.pk)
    require_may_take_back(by, entry)
    reason = text_of(reason, "reason")
    if not reason:
        raise Refused("Say why it is taken back; both stay readable.", field="reason")
    if hasattr(entry, "withdrawn_by"):
        raise Conflict("It was taken back already.")
    if entry.kind == Kind.ISSUED:
        _refuse_acted_on(locked)
    taken = add_entry(by, locked, "nonconformance.taken_back", kind=Kind.WITHDRAWAL, text=reason, withdraws=entry)
    if entry.kind == Kind.ISSUED:
        locked.state = Nonconformance.State.DRAFT
        locked.save(update_fields=["state"])
        tell_moved([locked])
    if entry.kind == Kind.CONCESSION:
        _tell(taken, f"The concession on {locked} was taken back", reason, of=_concerned(locked))
    return taken


def _refuse_acted_on(locked: Nonconformance) -> None:
    """Raise Conflict where more rests on the issue than what is said of drafts too."""
    refuse_closed(locked)
    said = said_of([locked.pk])[locked.pk]
    on_drafts = {saying.kind for saying in SAYINGS.values() if saying.on_drafts}
    if more := [entry for entry in said if entry.kind not in (*on_drafts, Kind.ISSUED, Kind.ANSWER)]:
        told = more[0].get_kind_display().lower()
        raise Conflict(f"Something was entered since it was issued ({told}); take that back first.")


def require_may_take_back(by: Person, entry: Disposition) -> None:
    """Raise NotAllowed unless the person may take such an entry back; that it was taken back stays for good."""
    if not may_take_back(by, entry, kinds_taken_back_by(by, entry.nonconformance)):
        raise NotAllowed("Only those who may make such an entry may take it back.")


def held(by: Person, nonconformance: Nonconformance) -> Nonconformance:
    """The nonconformance in sight, its area held until the transaction ends, as a measurement holds it."""
    in_sight(by, nonconformance)
    if nonconformance.area_id:
        InspectionArea.objects.select_for_update(no_key=True).get(pk=nonconformance.area_id)
    rows = Nonconformance.objects.select_related(
        "project", "area__structure", "coat", "lot", "batch", "gauge", "record", "closed_by", "closing_record"
    )
    return rows.select_for_update(of=("self",)).get(pk=nonconformance.pk)


def refuse_closed(locked: Nonconformance) -> None:
    if locked.state == Nonconformance.State.CLOSED:
        who = locked.closed_by.name_at(locked.closed_at) if locked.closed_by and locked.closed_at else "The platform"
        raise Conflict(f"{who} closed it already, on {locked.closed_at:%Y-%m-%d %H:%M} UTC.")


def _require_conceder(by: Person, locked: Nonconformance) -> None:
    if not may_concede(by, locked):
        raise NotAllowed(
            "Only the client's people on this project may accept it as it is; a quality manager records a concession "
            "only while none of them takes part."
        )


def add_entry(by: Person, locked: Nonconformance, verb: str, **said: object) -> Disposition:
    """Store the entry, journal it, and let the nonconformance be open or closed as the facts now say."""
    added = Disposition.objects.create(
        nonconformance=locked,
        person=by,
        signed_as=f"{by.name}, {by.organisation}",
        admitted=by.admission or None,
        **said,
    )
    before, locked.repair = locked.repair, done_about(locked)
    locked.save(update_fields=["repair"])
    journal.record(
        verb, locked, by=by, project_id=locked.project_id, before={"repair": before},
        after={"disposition": added.pk, "repair": locked.repair, **{name: said[name] for name in said if name in TOLD}},
        reason=added.text,
    )  # fmt: skip
    if locked.record_id and locked.area_id and locked.coat_id:
        settle(by, {(locked.area_id, locked.coat_id)})
        return added
    decided = is_decided(said_of([locked.pk])[locked.pk])
    if decided and locked.state != Nonconformance.State.CLOSED:
        close(by, locked)
    elif not decided and locked.state == Nonconformance.State.CLOSED:
        reopen(by, locked, because=added.text)
    return added


def _managers() -> QuerySet[Person]:
    return Person.objects.filter(is_active=True, grants__role=Role.QUALITY_MANAGER, grants__ended_at=None)


def _concerned(raised: Nonconformance) -> QuerySet[Person]:
    """The people of the client and of the other parties who decide, and the quality managers."""
    members = Membership.objects.in_force().filter(project=raised.project_id, role=Role.CLIENT).values("person")
    return Person.objects.filter(Q(pk__in=members) | Q(pk__in=_managers().values("pk")), is_active=True)


def _tell(entry: Disposition, subject: str, reason: str, *, of: QuerySet[Person]) -> None:
    """One letter to each of the people, but not to who made the entry."""
    raised = entry.nonconformance
    page = f"{settings.SITE_URL}{reverse('nonconformance', args=[raised.pk])}"
    where = f"{raised.project.code}, {raised.place}"
    kind = "answer" if entry.kind == Kind.ANSWER else "concession"
    for person in of.distinct().order_by("pk"):
        if person.pk == entry.person_id:
            continue
        post.write(
            kind, str(entry.pk), to=person, project=raised.project_id, subject=subject[:200],
            body=f"{subject}: {where}.\n\n{entry.signed_as}: {reason}\n\n{page}\n",
        )  # fmt: skip
