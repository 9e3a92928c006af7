"""The repaired part of an area: made from the extent of a nonconformance, and undone while it was wrong.

The failing measurement stays as it is. What its rule says without the spots within the part is kept beside it, once for
each of its versions.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.fieldwork.judging import Judgement, judge_remainder
from inspection.fieldwork.models import Latest, Record, ThicknessRecord
from inspection.fieldwork.queries import readings_of
from inspection.foundation.refusals import Asked, Conflict, Fault, Refused
from inspection.foundation.text import line
from inspection.nonconformance.actions.dispositions import held, refuse_closed
from inspection.nonconformance.actions.raising import settle, text_of
from inspection.nonconformance.extent import Found, found, next_told
from inspection.nonconformance.models import Nonconformance, Remainder, RepairedPart
from inspection.nonconformance.settling import facts_of
from inspection.nonconformance.signals import repaired_part_moved
from inspection.projects.areas import rounded
from inspection.projects.preconditions import in_sight
from inspection.projects.repaired import add_repaired_part, size_of_part, undo_repaired_part
from inspection.works.lots.models import LotPlace

WORKERS = (Role.INSPECTOR, Role.QUALITY_MANAGER)
# A part much smaller than what the search encloses is asked about; our own screen, for the search tells “at most”.
FAR_BELOW = Decimal("0.25")
HALF = Decimal("0.5")
# What is kept with an area out of use.
LONGEST_REASON = 1_000


@transaction.atomic
def make_repaired_part(
    by: Person, *, nonconformance: Nonconformance, id: UUID, area_m2: Decimal, left_out: Sequence[int],  # noqa: A002 - its own name for it, as in the API
    note: str = "", confirmed: bool = False,
) -> tuple[RepairedPart, bool]:  # fmt: skip
    """Make the part that is repaired, once the search for the extent has ended; True when it is new.

    `area_m2` is what was marked out, `left_out` the spots of the failing measurement within it. What is odd raises
    Asked until it is sent as `confirmed`. The same again under its id answers with what is stored.
    """
    require(by, *WORKERS, to="make a repaired part of an area")
    locked = held(by, nonconformance)
    note = line(note, field="note", most=200, needed=False)
    spots = sorted(set(left_out))
    if stored := RepairedPart.objects.select_related("part", "nonconformance").filter(pk=id).first():
        sent = (locked.pk, by.pk, spots, note, area_m2.is_finite() and rounded(area_m2))
        kept = (stored.nonconformance_id, stored.made_by_id, stored.left_out, stored.note, stored.area_m2)
        if kept == sent:
            return stored, False
        raise Conflict(Fault("This id is used already. Nothing was changed: send it under another.", "id"))
    told, failing = _extent(locked), _failing(locked)
    if there := RepairedPart.objects.in_force().filter(nonconformance=locked).select_related("part").first():
        raise Conflict(f"{there} is made already; undo it first if it was wrong.")
    area = locked.area
    if area is None:
        raise ValueError("a failing measurement has an area")
    _refuse_faulty(size_of_part(area, area_m2), failing, spots)
    rest = judge_remainder(failing, readings_of(failing), spots)
    asked = [*_odd_size(told, area_m2, area.area_m2), *_odd_rest(rest)]
    if asked and not confirmed:
        raise Asked(asked)
    name = f"{area.name or area.code}, repaired part"[:120]
    part = add_repaired_part(by, area=area, area_m2=area_m2, name=name)
    made = RepairedPart(
        id=id, nonconformance=locked, part=part, area_m2=part.area_m2, left_out=spots, extent=_as_kept(told), note=note,
        confirmed=[fault.message for fault in asked], made_by=by,
    )  # fmt: skip
    made.digest = journal.digest_of(made.content)
    made.save(force_insert=True)
    remainder = _keep(made, failing, rest)
    journal.record(
        "nonconformance.part_made", locked, by=by, project_id=locked.project_id,
        after={
            "repaired": made.pk, "part": part.label, "part_area": part.pk, "digest": made.digest, **made.content,
            "asked": made.confirmed, "remainder": _told(remainder),
        },
    )  # fmt: skip
    _tell(by, made, f"{made} was made of {area.label} for NC-{locked.number:03d}.")
    return made, True


@transaction.atomic
def undo_part(by: Person, *, repaired: RepairedPart, reason: str, confirmed: bool = False) -> RepairedPart:
    """Undo a repaired part that was made by mistake, with a reason; the area stands on its first record as before.

    Where something was recorded on the part, that raises Asked until it is sent as `confirmed`; it stays readable.
    """
    require(by, *WORKERS, to="undo a repaired part")
    in_sight(by, repaired)
    locked = held(by, repaired.nonconformance)
    rows = RepairedPart.objects.select_related("part", "nonconformance__project")
    row = rows.select_for_update(of=("self",)).get(pk=repaired.pk)
    if row.undone_at is not None:
        raise Conflict("It was undone already.")
    reason = text_of(reason, "reason")
    if not reason:
        raise Refused("Say why it is undone; what was recorded there stays readable.", field="reason")
    asked = _rests_on(row)
    if asked and not confirmed:
        raise Asked(asked)
    row.undone_at, row.undone_by, row.undone_why = timezone.now(), by, reason
    row.save(update_fields=["undone_at", "undone_by", "undone_why"])
    undo_repaired_part(by, part=row.part, reason=reason[:LONGEST_REASON])
    journal.record(
        "nonconformance.part_undone", locked, by=by, project_id=locked.project_id, before={"repaired": row.pk},
        after={"part": row.part.label, "asked": [fault.message for fault in asked]}, reason=reason,
    )  # fmt: skip
    _tell(by, row, f"{row} was undone: {reason}")
    return row


def judge_corrected(records: Iterable[UUID]) -> list[RepairedPart]:
    """Judge the rest of their areas anew where these records correct a measurement of which a part was repaired."""
    records = list(records)
    if not records:
        return []
    corrected = Record.objects.filter(pk__in=records, kind=ThicknessRecord.KIND, replaces__isnull=False)
    rows = RepairedPart.objects.in_force().filter(remainders__record__replaced_by__in=corrected)
    moved = []
    for row in rows.select_related("nonconformance", "part").distinct().order_by("pk"):
        raised = row.nonconformance
        record = facts_of([_place(raised)])[_place(raised)].now(raised.record_id) if raised.record_id else None
        if record is None or row.remainders.filter(record=record.pk).exists():
            continue
        version = ThicknessRecord.objects.get(pk=record.pk)
        try:
            rest = judge_remainder(version, readings_of(version), row.left_out)
        except Refused:
            continue
        remainder = _keep(row, version, rest)
        journal.record(
            "nonconformance.remainder_judged", raised, by=None, project_id=raised.project_id,
            after={"repaired": row.pk, "remainder": _told(remainder)}, reason=version.replacement_reason,
        )  # fmt: skip
        moved.append(row)
    return moved


def _place(raised: Nonconformance) -> tuple[UUID, UUID]:
    if raised.area_id is None or raised.coat_id is None:
        raise ValueError("a repaired part is of an area after a coat")
    return raised.area_id, raised.coat_id


def _extent(locked: Nonconformance) -> Found:
    """The extent, once it is known. Raises Refused and Conflict where it is not, or nothing is to be repaired."""
    refuse_closed(locked)
    if locked.state == Nonconformance.State.DRAFT:
        raise Conflict("It is a draft; issue it first.")
    told = found(locked)
    if told is None or locked.record_id is None:
        raise Refused("No thickness measurement raised it, so that no rest of the area can be judged without a part.")
    if not told.outcome.finished:
        after = next_told(told.outcome.next, by_units=told.by_units)
        raise Conflict(f"How far it reaches is not known yet; measure on: {after}.")
    return told


def _failing(locked: Nonconformance) -> ThicknessRecord:
    """The failing measurement as it stands. Raises Conflict where another one stands for the area by now."""
    area, coat = _place(locked)
    now = facts_of([(area, coat)])[area, coat].now(locked.record_id) if locked.record_id else None
    stands = Latest.objects.filter(area=area, coat=coat, kind=ThicknessRecord.KIND).values_list("record", flat=True)
    if now is None or now.pk != stands.first():
        raise Conflict("A later measurement of the whole area stands by now; that one decides.")
    if now.verdict != Record.Verdict.FAIL:
        raise Conflict("The measurement that raised it does not fail any more.")
    return ThicknessRecord.objects.select_related("coat", "area", "project").get(pk=now.pk)


def _refuse_faulty(faults: list[Fault], failing: ThicknessRecord, spots: Sequence[int]) -> None:
    there = {reading.spot for reading in readings_of(failing)}
    what = f"the measurement has spots {min(there)} to {max(there)}"
    if not spots:
        told = f"Name at least one spot of the failing measurement that lies within the part; {what}."
        faults = [*faults, Fault(told, "left_out")]
    elif unknown := [spot for spot in spots if spot not in there]:
        faults = [*faults, Fault(f"There is no spot {unknown[0]}; {what}.", "left_out")]
    if faults:
        raise Refused(faults)


def _odd_size(told: Found, part_m2: Decimal, area_m2: Decimal) -> list[Fault]:
    asked, most = [], told.outcome.area_m2
    if most is not None and part_m2 > Decimal(str(most)):
        asked.append(f"The search encloses at most {most:g} m², and the part is to have {part_m2} m².")
    if most is not None and part_m2 < Decimal(str(most)) * FAR_BELOW:
        asked.append(f"The search encloses up to {most:g} m², and the part is to have {part_m2} m² only.")
    if part_m2 > area_m2 * HALF:
        asked.append(f"The part is more than half of the {area_m2} m² of the area.")
    return [Fault(f"{words} Is this what was marked out?", "area_m2") for words in asked]


def _odd_rest(rest: Judgement) -> list[Fault]:
    if rest.verdict == Record.Verdict.PASS:
        return []
    broken = [check["sentence"] for check in rest.result.get("checks", ()) if check["passed"] is False]
    why = " ".join(dict.fromkeys(broken)) or " ".join(rest.result.get("notes", ()))
    words = str(Record.Verdict(rest.verdict).label).lower()
    told = f"Without these spots the rest of the area is not passed either ({words}). {why} Are these all of them?"
    return [Fault(told, "left_out")]


def _rests_on(row: RepairedPart) -> list[Fault]:
    records = Record.objects.filter(area=row.part_id).count()
    lots = LotPlace.objects.filter(area=row.part_id).count()
    asked = []
    if records:
        if records == 1:
            many, then = "1 record was", "it stays readable there, and no longer speaks for the area"
        else:
            many, then = f"{records} records were", "they stay readable there, and no longer speak for the area"
        asked.append(f"{many} taken on {row}; {then}.")
    if lots:
        many = "1 lot names" if lots == 1 else f"{lots} lots name"
        asked.append(f"{many} {row}; the part is out of use then.")
    return [Fault(words, "confirmed") for words in asked]


def _as_kept(told: Found) -> dict[str, Any]:
    """The extent as it was known when the part was made."""
    boundary = told.outcome.boundary or ()
    return {
        "by_units": told.by_units, "area_m2": told.outcome.area_m2, "spots": [str(spot.pk) for spot in told.spots],
        "boundary": [
            {"direction": each.direction, "step": each.step,
             "distance_m": None if each.distance_m is None else float(each.distance_m)}
            for each in boundary
        ],
    }  # fmt: skip


def _keep(repaired: RepairedPart, record: ThicknessRecord, rest: Judgement) -> Remainder:
    kept = Remainder(
        repaired=repaired, record=record, verdict=rest.verdict, inputs=rest.inputs, result=rest.result
    )  # fmt: skip
    kept.digest = journal.digest_of(kept.content)
    kept.save(force_insert=True)
    return kept


def _told(remainder: Remainder) -> dict[str, Any]:
    return {
        "id": remainder.pk, "record": remainder.record_id, "verdict": remainder.verdict, "digest": remainder.digest,
        "checks": [
            {name: check.get(name) for name in ("name", "limit", "observed", "passed")}
            for check in remainder.result.get("checks", ())
        ],
    }  # fmt: skip


def _tell(by: Person, row: RepairedPart, because: str) -> None:
    """Let the facts of the area settle again, and the rooms above know."""
    place = _place(row.nonconformance)
    settle(by, {place, (row.part_id, place[1])})
    repaired_part_moved.send(sender=RepairedPart, by=by, repaired=row, because=because)
