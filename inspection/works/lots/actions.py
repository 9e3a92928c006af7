"""Lots: begun, ended, corrected by a new version, withdrawn and brought back. Evidence is never turned away.

What is doubtful is asked about once; who goes on all the same has it kept with the lot as what was gone over.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.text import line
from inspection.projects.actions import goes_on
from inspection.projects.corrections import reason_faults
from inspection.projects.models import Project
from inspection.projects.preconditions import in_sight, in_time
from inspection.works.entering import ask, note_faults, sent_before
from inspection.works.lots import mixes as lot_mixes
from inspection.works.lots.checks import LotSent, PlaceSent, doubts_of, ended_faults, faults_of, litre_faults
from inspection.works.lots.mixes import MixDrawn
from inspection.works.models import Lot, LotParent, LotPlace, Shift
from inspection.works.signals import lots_changed

LOGGERS = (Role.INSPECTOR, Role.QUALITY_MANAGER, Role.CONTRACTOR)
TEXTS = {"pump_ratio": 20, "tip": 40, "applicators": 200}
PLAIN = (
    "activity", "coat", "stripe", "crew", "shift", "begun_at", "ended_at", "method", "pump_ratio", "tip",
    "pressure_bar", "applicators", "thinner_pct", "drawn_l", "returned_l", "note",
)  # fmt: skip


@transaction.atomic
def begin_lot(
    by: Person, *, id: UUID, project: Project, sent: LotSent, confirmed: bool = False,  # noqa: A002 - the lot's own name for it, as in the API
) -> tuple[Lot, bool]:  # fmt: skip
    """Record a lot that was begun, or ended too; True when it is new, the same again answers with what is stored.

    Raises Refused naming field and row, Conflict for other content under a used id, and Asked for what is doubtful
    until it is confirmed.
    """
    require(by, *LOGGERS, to="record a lot")
    project, sent = _checked(by, project, sent)
    digest = digest_of(sent)
    if stored := sent_before(by, Lot, id, digest):
        return stored, False
    goes_on(project)
    return _store(by, id, project, sent, digest=digest, confirmed=confirmed), True


@transaction.atomic
def correct_lot(
    by: Person, *, lot: Lot, id: UUID, sent: LotSent, reason: str, confirmed: bool = False,  # noqa: A002 - as above
) -> tuple[Lot, bool]:  # fmt: skip
    """Put a lot right by a new version that names the old one, which stays readable. True when it is new."""
    require(by, *LOGGERS, to="correct a lot")
    in_sight(by, lot)
    if faults := reason_faults(reason):
        raise Refused(faults)
    project, sent = _checked(by, lot.project, replace(sent, number=lot.number))
    digest = digest_of(sent, reason=reason.strip(), replaces=lot.pk)
    if stored := sent_before(by, Lot, id, digest):
        return stored, False
    held = _current(lot)
    new = _store(by, id, project, sent, digest=digest, confirmed=confirmed, replaces=held, why=reason.strip())
    return new, True


@transaction.atomic
def end_lot(
    by: Person,
    *,
    lot: Lot,
    ended_at: datetime,
    drawn_l: Decimal | None = None,
    returned_l: Decimal | None = None,
    mixes: Sequence[MixDrawn] = (),
) -> tuple[Lot, bool]:
    """Say when a lot ended, and what paint it took. True when that is new; sent again, it changes nothing."""
    require(by, *LOGGERS, to="end a lot")
    in_sight(by, lot)
    held = _current(lot)
    drawn = held.drawn_l if drawn_l is None else drawn_l
    if held.ended_at:
        same = all(each in lot_mixes.drawn_of(held) for each in mixes)
        if same and (held.ended_at, held.drawn_l, held.returned_l) == (ended_at, drawn, returned_l):
            return held, False
        told = f"{held.ended_at.astimezone(held.project.zone):%Y-%m-%d %H:%M}"
        raise Conflict(f"{held} ended at {told} already; correct it if that is wrong.")
    faults = in_time(ended_at, "ended_at") or ended_faults(held.project, held.begun_at, ended_at)
    faults += litre_faults(drawn, returned_l)
    faults += [
        Fault("Give a figure from 0 to 100,000 l.", name)
        for name, litres in (("drawn_l", drawn), ("returned_l", returned_l))
        if litres is not None and not 0 <= litres <= 100_000
    ]
    faults += lot_mixes.mix_faults(held.project, held.coat, held.begun_at, ended_at, mixes)
    if drawn is not None and held.coat_id is None:
        faults.append(Fault("No paint is used on steel that is being cleaned.", "drawn_l"))
    if faults:
        raise Refused(faults)
    held.ended_at, held.drawn_l, held.returned_l = ended_at, drawn, returned_l
    held.save(update_fields=["ended_at", "drawn_l", "returned_l"])
    lot_mixes.keep(held, mixes)
    after = {"ended_at": ended_at, "drawn_l": drawn, "returned_l": returned_l, "mixes": lot_mixes.told(mixes)}
    journal.record("lot.ended", held, by=by, project_id=held.project_id, after=after)
    _tell(by, held)
    return held, True


@transaction.atomic
def withdraw_lot(by: Person, *, lot: Lot, reason: str) -> Lot:
    """Say that it never was: entered twice, or of another project. It stays readable, and counts for nothing."""
    require(by, *LOGGERS, to="withdraw a lot")
    in_sight(by, lot)
    if faults := reason_faults(reason):
        raise Refused(faults)
    held = _current(lot)
    return _set_withdrawn(by, held, "lot.withdrawn", reason, at=timezone.now(), who=by)


@transaction.atomic
def restore_lot(by: Person, *, lot: Lot, reason: str) -> Lot:
    """Take a withdrawal back."""
    require(by, *LOGGERS, to="bring a lot back")
    in_sight(by, lot)
    if faults := reason_faults(reason):
        raise Refused(faults)
    held = _held(lot)
    if held.withdrawn_at is None:
        raise Conflict(f"{held} is not withdrawn.")
    return _set_withdrawn(by, held, "lot.restored", reason, at=None, who=None)


def _set_withdrawn(by: Person, lot: Lot, verb: str, reason: str, *, at: datetime | None, who: Person | None) -> Lot:
    lot.withdrawn_at, lot.withdrawn_by, lot.withdrawn_why = at, who, reason.strip() if at else ""
    lot.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawn_why"])
    journal.record(verb, lot, by=by, project_id=lot.project_id, reason=reason.strip())
    _tell(by, lot)
    return lot


# --- what they share --------------------------------------------------------------------------------------------------


def digest_of(sent: LotSent, **more: Any) -> str:
    """SHA-256 of what was sent: ids, figures without trailing zeros, moments in UTC, places by area."""
    told = {name: _plain(getattr(sent, name)) for name in PLAIN}
    places = sorted((str(place.area.pk), _plain(place.found_m2)) for place in sent.places)
    parents = sorted(str(parent.pk) for parent in sent.parents)
    mixes = {"mixes": lot_mixes.told(sent.mixes)} if sent.mixes else {}
    return journal.digest_of({**told, "places": places, "parents": parents, **mixes, **more})


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    return value.timestamp() if isinstance(value, datetime) else value


def _checked(by: Person, project: Project, sent: LotSent) -> tuple[Project, LotSent]:
    """The project held, and what was sent made fit to keep. Raises Refused with all that is wrong."""
    things = [project, sent.crew, *(place.area for place in sent.places), *sent.parents]
    things += [each.mix for each in sent.mixes]
    in_sight(by, *things, *([sent.coat] if sent.coat else []), *([sent.shift] if sent.shift else []))
    project = Project.objects.select_for_update(of=("self",)).get(pk=project.pk)
    texts: dict[str, Any] = {
        name: line(getattr(sent, name), field=name, most=most, needed=False) for name, most in TEXTS.items()
    }
    sent = replace(sent, **texts, note=sent.note.strip())
    if faults := note_faults(sent.note, "note") or faults_of(project, sent):
        raise Refused(faults)
    return project, sent


def _shift_at(sent: LotSent) -> Shift | None:
    """The crew's shift that holds the beginning, where one does; of two that overlap, the later."""
    at = sent.begun_at
    rows = Shift.objects.that_hold().filter(crew=sent.crew.pk, begins_at__lte=at, ends_at__gt=at)
    return rows.order_by("-begins_at").first()


def _store(
    by: Person, pk: UUID, project: Project, sent: LotSent, *, digest: str, confirmed: bool,
    replaces: Lot | None = None, why: str = "",
) -> Lot:  # fmt: skip
    gone_over = ask(doubts_of(project, sent), confirmed=confirmed)
    sent = replace(sent, shift=sent.shift or _shift_at(sent))
    last = project.lots.aggregate(last=Max("number"))["last"] or 0
    lot = Lot.objects.create(
        id=pk, project=project, number=replaces.number if replaces else last + 1,
        version=replaces.version + 1 if replaces else 1, entered_by=by, digest=digest, replaces=replaces, why=why,
        gone_over=gone_over, **{name: getattr(sent, name) for name in PLAIN},
    )  # fmt: skip
    LotPlace.objects.bulk_create(LotPlace(lot=lot, area=each.area, m2=each.found_m2) for each in sent.places)
    lot_mixes.keep(lot, sent.mixes)
    LotParent.objects.bulk_create(LotParent(lot=lot, parent=parent) for parent in sent.parents)
    told = {
        "of": lot.of, "crew": lot.crew.name, "begun_at": lot.begun_at, "ended_at": lot.ended_at,
        "places": {place.area.label: place.found_m2 for place in sent.places}, "gone_over": lot.gone_over,
        "mixes": lot_mixes.told(sent.mixes), "digest": digest,
    }  # fmt: skip
    verb = "lot.corrected" if replaces else "lot.begun"
    before = {"lot": replaces.pk, "digest": replaces.digest} if replaces else None
    journal.record(verb, lot, by=by, project_id=project.pk, before=before, after=told, reason=why)
    _tell(by, lot, *([replaces] if replaces else []))
    return lot


def _held(lot: Lot) -> Lot:
    rows = Lot.objects.select_for_update(of=("self",)).select_related("project", "coat__system", "crew")
    held = rows.get(pk=lot.pk)
    if later := Lot.objects.filter(replaces=held).first():
        raise Conflict(f"{held} was corrected meanwhile, by version {later.version}; look at that one.")
    return held


def _current(lot: Lot) -> Lot:
    held = _held(lot)
    if held.withdrawn_at:
        raise Conflict(f"{held} is withdrawn; bring it back first.")
    return held


def _tell(by: Person, *lots: Lot) -> None:
    places: Collection[UUID] = set(LotPlace.objects.filter(lot__in=lots).values_list("area", flat=True))
    lots_changed.send(sender=Lot, by=by, areas=list(places))


__all__ = ["LOGGERS", "LotSent", "PlaceSent", "begin_lot", "correct_lot", "end_lot", "restore_lot", "withdraw_lot"]
