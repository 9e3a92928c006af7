"""Storing a surface profile record: heights as the instrument showed them, judged by locations (SSPC-PA 17)."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from fractions import Fraction
from typing import Any, NamedTuple
from uuid import UUID

from accounts.models import Person
from inspection.fieldwork.observing import Observing, observe
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.fieldwork.storing import LONGEST_NOTE, LONGEST_REASON, content_digest, moments, words
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.text import wrong_on_a_line
from inspection.foundation.units import in_unit, um
from inspection.instruments.models import Gauge
from inspection.projects.models import InspectionArea, Project
from inspection.projects.steps import system_at
from inspection.standards import InputFault, calculate
from inspection.standards.profile_locations import MAXIMUM, location_value
from inspection.standards.replica_tape import outside

CALCULATION = "profile-pa17"
# Readings at each location by method: ten by depth micrometer (ASTM D4417 B, stored source); two replica tapes, five
# traces of a stylus and one assessment by comparator from memory. A specification may ask for others.
READINGS_A_LOCATION = {"micrometer": 10, "tape": 2, "stylus": 5, "comparator": 1}
TAPE_FILM_NM = 50_000
"""The film of a replica tape is 50 ± 2 µm (ISO 8503-5, stored source)."""
MOST_LOCATIONS, MOST_READINGS = 500, 100
MOST_FILM_NM = 200_000
MOST_NM = 1_000_000
# A replica tape shows no more than 127 µm, no comparator segment more than 150 µm (stored sources); a blasted surface
# rougher than this is more often a slip of unit or a film not subtracted. Our own limit.
DOUBTED_NM = 200_000
BASE_GAUGE = "base_metal_gauge"
# Ten are asked for by site procedures (stored source); in SSPC-PA 2 itself from memory.
BASE_METAL_READINGS = 10
LIMITS = ("minimum_um", "maximum_um")
SENT = ("gauge_id", "method", "location_value", "film_nm", "readings_a_location", "locations")
# Told only where it was given, so that the digest of what was stored before it could be is as it was.
SENT_WITH_IT = (
    "abrasive", "base_metal_nm", "base_metal_gauge_id", "tape_grade", "consumable_batch", "consumable_expires",
)  # fmt: skip
OF_A_TAPE = ("tape_grade", "consumable_batch", "consumable_expires")
MOST_BASE_METAL, MOST_BASE_METAL_NM = 100, 500_000


class LocationSent(NamedTuple):
    """One location of about 15 × 15 cm: which apparatus blasted it, and the readings as the instrument showed them."""

    readings_nm: Sequence[int]
    apparatus: str = ""


def record_profile(
    by: Person,
    *,
    id: UUID,  # noqa: A002 - the record's own name for it, in every action and in the API
    project: Project,
    area: InspectionArea,
    coat: None = None,
    taken_at: datetime,
    method: str,
    location_value: str,
    film_nm: int = 0,
    readings_a_location: int | None = None,
    locations: Sequence[LocationSent],
    gauge: Gauge | None = None,
    abrasive: str = "",
    base_metal_nm: Sequence[int] = (),
    base_metal_gauge: Gauge | None = None,
    tape_grade: str = "",
    consumable_batch: str = "",
    consumable_expires: date | None = None,
    note: str = "",
    source: str = ProfileRecord.Source.PAGE,
    replaces: ProfileRecord | None = None,
    replacement_reason: str = "",
    ask: bool = False,
) -> tuple[ProfileRecord, bool]:
    """Store the profile of an area with the verdict its locations give; True when the record is new.

    Heights in whole nm; `film_nm`, of a replica tape, is subtracted from each. Without `readings_a_location`, as many
    are asked for as the method asks. Of a replica tape also its grade, batch and last day. Base metal readings,
    in nm, are a thickness gauge's on the bare blasted steel.
    Raises as `observe` does.
    """
    wanted = readings_a_location or READINGS_A_LOCATION.get(method, 1)
    record = ProfileRecord(
        id=id, project=project, area=area, coat=None, gauge=gauge, taken_by=by, taken_at=taken_at, ended_at=taken_at,
        note=note, source=source, replaces=replaces, replacement_reason=replacement_reason, method=method,
        location_value=location_value, film_nm=film_nm, readings_a_location=wanted,
        abrasive=abrasive, base_metal_nm=list(base_metal_nm), base_metal_gauge=base_metal_gauge,
        tape_grade=tape_grade, consumable_batch=consumable_batch.strip(), consumable_expires=consumable_expires,
        locations=[{"apparatus": at.apparatus.strip(), "readings_nm": list(at.readings_nm)} for at in locations],
    )  # fmt: skip
    return observe(record, OBSERVING, ask=ask)


def profile_digest(record: ProfileRecord) -> str:
    """SHA-256 of what the sender sent of a profile record."""
    beside = {name: getattr(record, name) for name in SENT_WITH_IT if getattr(record, name)}
    return content_digest(record, SENT, **beside)


def judged_again(record: ProfileRecord) -> str:
    """The verdict that the stored heights give under the limits they were judged by."""
    given = _given(
        record, {name: record.inputs[name] for name in ("minimum_um", "maximum_um") if name in record.inputs}
    )
    return str(_answer(given)["verdict"])


def _judge(record: ProfileRecord) -> None:
    """Fill in the values of the locations, and what the rule says of them where the specification gives limits."""
    system = system_at(record.area, record.taken_at)
    limits = dict(zip(LIMITS, (system.profile_min_nm, system.profile_max_nm), strict=True))
    record.inputs = _given(record, {name: um(nm) for name, nm in limits.items() if nm is not None})
    record.result = _answer(record.inputs)
    record.verdict = record.result["verdict"]
    record.calculation = CALCULATION if record.result["checks"] else ""
    values = [location_value(heights, record.location_value) for heights in _heights(record)]
    record.mean_nm = round(sum(values) / len(values) * 1000)
    record.lowest_nm, record.highest_nm = round(min(values) * 1000), round(max(values) * 1000)
    record.reading_count = sum(len(at["readings_nm"]) for at in record.locations)


def _heights(record: ProfileRecord) -> list[tuple[Fraction, ...]]:
    """In µm, with the film subtracted."""
    return [tuple(Fraction(nm - record.film_nm, 1000) for nm in at["readings_nm"]) for at in record.locations]


def _given(record: ProfileRecord, limits: dict[str, Any]) -> dict[str, Any]:
    locations = [
        {"readings_um": [um(nm - record.film_nm) for nm in at["readings_nm"]]}
        | ({"apparatus_and_shift": at["apparatus"]} if at["apparatus"] else {})
        for at in record.locations
    ]
    return {
        **limits,
        "location_value": record.location_value,
        "readings_per_location": record.readings_a_location,
        "locations": locations,
    }


def _answer(given: dict[str, Any]) -> dict[str, Any]:
    if not given.keys() & set(LIMITS):
        note = "The coating system of this area gives no limits for the profile, so it was not judged."
        return {"verdict": ProfileRecord.Verdict.NOT_JUDGED.value, "checks": [], "notes": [note]}
    try:
        return calculate(CALCULATION, given)
    except InputFault as wrong:
        raise Refused(Fault(fault.message, "locations") for fault in wrong.faults) from wrong


def _refuse_faulty(record: ProfileRecord) -> None:
    """Raise Refused for what no rule has to judge, all at once; a location is a row."""
    faults = [
        *moments(taken_at=record.taken_at),
        *words(note=(record.note, LONGEST_NOTE), replacement_reason=(record.replacement_reason, LONGEST_NOTE)),
    ]
    if record.gauge and record.gauge.kind != Gauge.Kind.PROFILE:
        faults.append(
            Fault(f"{record.gauge} is no surface profile gauge; choose the one that was used, or none.", "gauge")
        )
    for name, known in (("method", ProfileRecord.Method), ("location_value", ProfileRecord.LocationValue)):
        if getattr(record, name) not in known.values:
            faults.append(Fault(f"Give one of {', '.join(known.values)}.", name))
    if record.film_nm and record.method != ProfileRecord.Method.TAPE:
        faults.append(Fault("Only a replica tape has a film to be subtracted.", "film"))
    elif record.film_nm > MOST_FILM_NM:
        faults.append(Fault("The film of a replica tape is 50 µm thick; check the figure and the unit.", "film"))
    if not 1 <= record.readings_a_location <= MOST_READINGS:
        faults.append(Fault(f"Ask for 1 to {MOST_READINGS} readings at each location.", "readings_a_location"))
    if record.abrasive not in ("", *ProfileRecord.Abrasive.values):
        faults.append(Fault(f"Give one of {', '.join(ProfileRecord.Abrasive.values)}, or nothing.", "abrasive"))
    faults += _tape_faults(record)
    faults += _base_metal_faults(record)
    faults += _location_faults(record)
    if faults:
        raise Refused(faults)


def _tape_faults(record: ProfileRecord) -> list[Fault]:
    if record.tape_grade not in ("", *ProfileRecord.TapeGrade.values):
        return [Fault(f"Give one of {', '.join(ProfileRecord.TapeGrade.values)}, or nothing.", "tape_grade")]
    batch = record.consumable_batch
    if len(batch) > LONGEST_REASON or wrong_on_a_line(batch):
        wrong = wrong_on_a_line(batch) or f"Name the batch in at most {LONGEST_REASON} characters."
        return [Fault(wrong, "consumable_batch")]
    if record.method == ProfileRecord.Method.TAPE:
        return []
    told = "Only a replica tape has a grade, a batch and a last day; choose that method, or leave it empty."
    return [Fault(told, name) for name in OF_A_TAPE if getattr(record, name)]


def _base_metal_faults(record: ProfileRecord) -> list[Fault]:
    gauge, readings = record.base_metal_gauge, record.base_metal_nm
    faults = []
    if gauge and gauge.kind != Gauge.Kind.THICKNESS:
        faults.append(Fault(f"{gauge} is no coating thickness gauge; choose the one it was read with.", BASE_GAUGE))
    if gauge and not readings:
        faults.append(Fault("Give the base metal readings, or no gauge for them.", "base_metal"))
    if readings and not gauge:
        faults.append(Fault("Say with which coating thickness gauge they were read.", BASE_GAUGE))
    if len(readings) > MOST_BASE_METAL:
        faults.append(Fault(f"Give at most {MOST_BASE_METAL} readings.", "base_metal"))
    faults += [
        Fault(f"{in_unit(nm, 'um')} µm is no reading of bare steel; it lies above 0 and at most 500 µm.", "base_metal")
        for nm in readings
        if not 0 < nm <= MOST_BASE_METAL_NM
    ]
    return faults


def _location_faults(record: ProfileRecord) -> list[Fault]:
    if not 1 <= len(record.locations) <= MOST_LOCATIONS:
        return [Fault(f"Give 1 to {MOST_LOCATIONS} locations.", "locations")]
    faults = []
    for row, at in enumerate(record.locations, start=1):
        readings, apparatus = at["readings_nm"], at["apparatus"]
        if not 1 <= len(readings) <= MOST_READINGS:
            faults.append(Fault(f"Give 1 to {MOST_READINGS} readings at each location.", "locations", row))
        for nm in readings:
            if not 0 < nm - record.film_nm <= MOST_NM:
                told = f"less {in_unit(record.film_nm, 'um')} µm of film " if record.film_nm else ""
                message = (
                    f"{in_unit(nm, 'um')} µm {told}is no height of a profile; it lies above 0 and at most 1000 µm."
                )
                faults.append(Fault(message, "locations", row))
        if len(apparatus) > LONGEST_REASON or wrong_on_a_line(apparatus):
            wrong = wrong_on_a_line(apparatus) or f"Name the apparatus in at most {LONGEST_REASON} characters."
            faults.append(Fault(wrong, "locations", row))
    return faults


def doubts_of(record: ProfileRecord) -> list[Fault]:
    """What looks like a slip: a height of nothing blasted, or a film that was not subtracted."""
    faults = []
    greatest = max(max(at["readings_nm"]) for at in record.locations) - record.film_nm
    if greatest > DOUBTED_NM:
        faults.append(
            Fault(
                f"A height of {in_unit(greatest, 'um')} µm is doubted: more than {in_unit(DOUBTED_NM, 'um', 0)} µm is "
                "rare on blasted steel (our own limit; no standard gives one). Check the unit.",
                "locations",
            )
        )
    if record.method == ProfileRecord.Method.TAPE and not record.film_nm:
        message = "Nothing is subtracted for the film of the tape; right only where the gauge was set to zero on it."
        faults.append(Fault(message, "film"))
    faults += [*_tape_doubts(record), *_beyond_the_gauge(record)]
    if 0 < len(record.base_metal_nm) < BASE_METAL_READINGS:
        message = f"A base metal reading is the mean of about {BASE_METAL_READINGS}; these are fewer."
        faults.append(Fault(message, "base_metal"))
    if record.location_value == MAXIMUM and record.method != ProfileRecord.Method.MICROMETER:
        message = "Only by depth micrometer is the greatest reading of a location kept (ASTM D4417 B of 2014)."
        faults.append(Fault(message, "location_value"))
    return faults


def _tape_doubts(record: ProfileRecord) -> list[Fault]:
    """A tape past its last day, and heights outside the range of its grade: they are read again on the next one."""
    faults = []
    last = record.consumable_expires
    if last and last < record.project.day_of(record.taken_at):
        words = f"The tape could be used until {last:%Y-%m-%d}, which was past."
        faults.append(Fault(words, "consumable_expires"))
    for row, at in enumerate(record.locations, start=1) if record.tape_grade else ():
        for nm in at["readings_nm"]:
            if bounds := outside(record.tape_grade, nm - record.film_nm):
                grade = record.get_tape_grade_display().split(",")[0].lower()
                words = (
                    f"{in_unit(nm - record.film_nm, 'um')} µm lies outside the range of {grade} tape, {bounds[0]} to "
                    f"{bounds[1]} µm: read it again on the next grade."
                )
                faults.append(Fault(words, "locations", row))
                break
    return faults


def _beyond_the_gauge(record: ProfileRecord) -> list[Fault]:
    """Readings, as it showed them, outside the range that the instrument is registered with."""
    gauge = record.gauge
    if gauge is None or gauge.range_to_nm is None:
        return []
    low, high = gauge.range_from_nm or 0, gauge.range_to_nm
    beyond = [nm for at in record.locations for nm in at["readings_nm"] if not low <= nm <= high]
    if not beyond:
        return []
    span = f"{in_unit(low, 'um')} to {in_unit(high, 'um')} µm"
    furthest = max(beyond, key=lambda nm: max(low - nm, nm - high))
    words = (
        f"{in_unit(furthest, 'um')} µm lies outside the range of {gauge}, {span}; check figure, unit and instrument."
    )
    return [Fault(words, "gauge")]


def warnings_of(record: ProfileRecord) -> list[str]:
    """A sentence for each thing that casts doubt on a record, though it is stored."""
    return [fault.message for fault in doubts_of(record)]


def _told(record: ProfileRecord) -> dict[str, Any]:
    return {"locations": len(record.locations), "readings": record.reading_count, "mean_um": um(record.mean_nm)}


def _because(record: ProfileRecord) -> str:
    taken = f"{record.taken_at.astimezone(record.project.zone):%Y-%m-%d %H:%M}"
    about = f"The surface profile of {record.area.label}, {taken}"
    return f"{about}{', was corrected' if record.replaces else ''}: {record.get_verdict_display().lower()}."


OBSERVING = Observing(
    refuse_faulty=_refuse_faulty, digest=profile_digest, judge=_judge, questions=doubts_of, told=_told,
    evidence="records", because=_because,
)  # fmt: skip
