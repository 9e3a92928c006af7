"""Storing a thickness record: checked, judged, stored whole with all its readings, journalled, made known."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from datetime import UTC, datetime
from operator import itemgetter
from uuid import UUID

from django.db import transaction

from accounts import journal
from accounts.models import Person, StoredFile
from inspection.fieldwork.judging import Answer, Judgement, ReadingSent, judge
from inspection.fieldwork.models import Reading, Record, ThicknessRecord
from inspection.fieldwork.profile.correction import settled_correction
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.fieldwork.storing import (
    LONGEST_NOTE,
    LONGEST_REASON,
    coat_judged_by,
    content_digest,
    may_record,
    moments,
    of_changed_area,
    replacing,
    store,
    stored_before,
    words,
)
from inspection.foundation.copying import bulk_rows
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.text import wrong_on_a_line
from inspection.foundation.units import Unit, in_unit
from inspection.instruments import overdue
from inspection.instruments.models import Gauge
from inspection.instruments.signals import evidence_changed
from inspection.projects.models import Coat, InspectionArea, Project
from inspection.projects.preconditions import in_sight
from inspection.projects.revised_areas import keep_late

MOST_READINGS = 100_000
MOST_CORRECTION_NM = 1_000_000
# A PostgreSQL integer; a spot number beyond it is a slip anyway.
MOST_PLACE = 1_000_000
MOST_FAULTS = 50
SENT = ("gauge_id", "unit", "profile_way", "correction_nm", "first_reading_at", "last_reading_at", "file_id")


@transaction.atomic
def record_thickness(
    by: Person,
    *,
    id: UUID,  # noqa: A002 - the record's own name for it, in every action and in the API
    project: Project,
    area: InspectionArea,
    coat: Coat,
    gauge: Gauge,
    profile_way: str,
    correction_nm: int = 0,
    profile_record: ProfileRecord | None = None,
    unit: str,
    readings: Sequence[ReadingSent],
    first_reading_at: datetime,
    last_reading_at: datetime,
    note: str = "",
    source: str = ThicknessRecord.Source.PAGE,
    file: StoredFile | None = None,
    file_name: str = "",
    replaces: ThicknessRecord | None = None,
    replacement_reason: str = "",
    known: Answer | None = None,
) -> tuple[ThicknessRecord, bool]:
    """Store all readings of one area after one coat, with the verdict they give; True when the record is new.

    The same content under the same id answers with the stored record. Raises Refused naming field and row, Conflict
    for other content under a used id or a record that was corrected meanwhile, NotAllowed and Http404. What had run
    out when it was measured keeps nothing out: evidence is kept, and its standing tells the doubt. `known` is what the
    rule answered in a preview; it counts where it would be asked the same now. With a `profile_record`, the correction
    is what that gives.
    """
    may_record(by, project=project, area=area, coat=coat, gauge=gauge, what="thickness")
    coat = coat_judged_by(id, area=area, coat=coat, at=first_reading_at, replaces=replaces)
    readings = list(readings)
    if profile_record:
        in_sight(by, profile_record)
    correction_nm = settled_correction(
        area=area.pk, way=profile_way, correction_nm=correction_nm, profile=profile_record
    )
    refuse_faulty(
        gauge=gauge, profile_way=profile_way, correction_nm=correction_nm, unit=unit, readings=readings,
        times=(first_reading_at, last_reading_at), note=note, reason=replacement_reason,
    )  # fmt: skip
    record = ThicknessRecord(
        id=id, project=project, area=area, coat=coat, gauge=gauge, taken_by=by, taken_at=first_reading_at,
        ended_at=last_reading_at, source=source, file=file, unit=unit,
        profile_way=profile_way, correction_nm=correction_nm, profile_record=profile_record, note=note,
        replaces=replaces,
        replacement_reason=replacement_reason, file_name=file_name,
    )  # fmt: skip
    record.digest = thickness_digest(record, readings)
    stored = stored_before(record)
    if stored is not None:
        return stored, False
    replacing(replaces, replacement_reason, by=by, project=project)
    _set_judged(record, judge(coat, area, readings, correction_nm, known))
    record, new = store(record)
    if new:
        _store_readings(record, readings)
        _make_known(by, record, replaces)
    return record, new


def thickness_digest(record: ThicknessRecord, readings: Sequence[ReadingSent]) -> str:
    """SHA-256 of what the sender sent of a thickness record."""
    # Told only where it was given, so that the digest of what was stored before it could be is as it was.
    beside = {"profile_record_id": record.profile_record_id} if record.profile_record_id else {}
    return content_digest(record, SENT, readings=readings_digest(readings), **beside)


def readings_digest(readings: Sequence[ReadingSent]) -> str:
    """SHA-256 of the readings as canonical JSON; lists of whole numbers and text need no more than the C encoder."""
    rows = [
        (spot, order, nm, at.astimezone(UTC).isoformat() if at else None, void)
        for spot, order, nm, at, void in sorted(readings, key=itemgetter(0, 1))
    ]
    return hashlib.sha256(json.dumps(rows, separators=(",", ":"), ensure_ascii=False).encode()).hexdigest()


def _set_judged(record: ThicknessRecord, judgement: Judgement) -> None:
    values = judgement.values_nm
    record.calculation, record.inputs, record.result = judgement.calculation, judgement.inputs, judgement.result
    record.verdict, record.readings_wanted = judgement.verdict, judgement.plan.readings
    record.reading_count, record.mean_nm = len(values), round(judgement.mean_nm)
    record.lowest_nm, record.highest_nm = min(values), max(values)


def _store_readings(record: ThicknessRecord, readings: Sequence[ReadingSent]) -> None:
    bulk_rows(
        Reading,
        ("record_id", "spot", "order", "value_nm", "taken_at", "void_reason"),
        [(record.pk, spot, order, nm, at, void) for spot, order, nm, at, void in readings],
    )


def run_out_of(record: ThicknessRecord) -> list[str]:
    """A sentence for each paper that had run out on the day of the measurement: the gauge's, the person's."""
    day = record.project.day_of(record.first_reading_at)
    return overdue.words(overdue.faults(day, by=record.taken_by, gauge=record.gauge, project=record.project))


def _make_known(by: Person, record: ThicknessRecord, replaces: ThicknessRecord | None) -> None:
    run_out = run_out_of(record)
    journal.record(
        "thickness.corrected" if replaces else "thickness.recorded",
        record,
        by=by,
        project_id=record.project_id,
        before={"record": replaces.pk, "verdict": replaces.verdict} if replaces else None,
        after={
            "area": record.area.label,
            "coat": record.coat.name,
            "gauge": record.gauge.identity,
            **({"correction_from": record.profile_record_id} if record.profile_record_id else {}),
            "readings": record.reading_count,
            "verdict": record.verdict,
            "digest": record.digest,
            **({"run_out": run_out} if run_out else {}),
            **({"changed_area": changed} if (changed := of_changed_area(record)) else {}),
        },
        reason=record.replacement_reason,
    )
    because = f"{by.name} recorded the thickness of {record.area.label} after {record.coat.name}."
    if record.verdict in (Record.Verdict.PASS, Record.Verdict.FAIL):
        keep_late(by, area=record.area, coat=record.coat, because=because)
    evidence_changed.send(sender=ThicknessRecord, by=by, records=[record.pk], gauges=[], since=None, because=because)


def refuse_faulty(
    *, gauge: Gauge, profile_way: str, correction_nm: int, unit: str, readings: list[ReadingSent],
    times: tuple[datetime, datetime] | None, note: str, reason: str,
) -> None:  # fmt: skip
    """Raise Refused for what no rule has to judge: impossible moments, gauges, units, places, readings out of range.

    All that can be told at once is told at once. `times` are the first and last reading; without them, only what does
    not hang on them is judged.
    """
    faults = _time_faults(*times) if times else []
    window = None if faults else times
    faults += words(note=(note, LONGEST_NOTE), replacement_reason=(reason, LONGEST_NOTE))
    faults += _set_up_faults(gauge, profile_way, correction_nm)
    if unit not in Unit.values:
        faults.append(Fault("Give um or mil.", "unit"))
    elif gauge.kind == Gauge.Kind.THICKNESS:
        faults += _reading_faults(gauge, unit, readings, window)
    if faults:
        raise Refused(faults)


def _time_faults(first: datetime, last: datetime) -> list[Fault]:
    faults = moments(first_reading_at=first, last_reading_at=last)
    if not faults and last < first:
        faults.append(Fault("The last reading cannot come before the first.", "last_reading_at"))
    return faults


def check_set_up(gauge: Gauge, profile_way: str, correction_nm: int) -> None:
    """Raise Refused unless the gauge measures thickness and the profile is dealt with in exactly one way."""
    faults = _set_up_faults(gauge, profile_way, correction_nm)
    if faults:
        raise Refused(faults)


def _set_up_faults(gauge: Gauge, way: str, correction_nm: int) -> list[Fault]:
    if gauge.kind != Gauge.Kind.THICKNESS:
        return [Fault(f"{gauge} is no coating thickness gauge; choose the gauge that was used.", "gauge")]
    if way not in ThicknessRecord.ProfileWay.values:
        return [Fault(f"Give one of {', '.join(ThicknessRecord.ProfileWay.values)}.", "profile_way")]
    if way == ThicknessRecord.ProfileWay.ADJUSTED:
        message = "A gauge adjusted on the blasted surface takes no correction, or the profile is subtracted twice."
        return [Fault(message, "correction")] if correction_nm else []
    if not 0 < correction_nm <= MOST_CORRECTION_NM:
        return [Fault("Give what is subtracted for the profile: more than 0 and at most 1000 µm.", "correction")]
    return []


def _reading_faults(
    gauge: Gauge, unit: str, readings: list[ReadingSent], window: tuple[datetime, datetime] | None
) -> list[Fault]:
    if not readings:
        return [Fault("There are no readings.", "readings")]
    if len(readings) > MOST_READINGS:
        return [Fault(f"A record holds at most {MOST_READINGS} readings; these are {len(readings)}.", "readings")]
    faults: list[Fault] = []
    places: set[tuple[int, int]] = set()
    lowest, highest = gauge.range_from_nm or 0, gauge.range_to_nm or 0
    for row, (spot, order, nm, at, void) in enumerate(readings, start=1):
        if not (0 < spot <= MOST_PLACE and 0 < order <= MOST_PLACE):
            faults.append(Fault("Spots and readings are counted from 1.", "spot", row))
        if not lowest <= nm <= highest:
            faults.append(Fault(_beyond(gauge, unit, nm), "value", row))
        if (spot, order) in places:
            faults.append(Fault(f"Reading {order} of spot {spot} is given twice.", "reading", row))
        places.add((spot, order))
        if at and window and not window[0] <= at <= window[1]:
            faults.append(Fault("The time lies outside first and last reading of the record.", "time", row))
        if void and (len(void) > LONGEST_REASON or wrong_on_a_line(void) or not void.strip()):
            wrong = wrong_on_a_line(void) or f"Give the reason in at most {LONGEST_REASON} plain characters."
            faults.append(Fault(wrong, "void_reason", row))
        if len(faults) >= MOST_FAULTS:
            break
    return faults


def _beyond(gauge: Gauge, unit: str, nm: int) -> str:
    low, high = (in_unit(bound or 0, unit) for bound in (gauge.range_from_nm, gauge.range_to_nm))
    label = Unit(unit).label
    return (
        f"{in_unit(nm, unit)} {label} lies outside the range of gauge {gauge} ({low} to {high} {label}); check the "
        "figure and the unit."
    )
