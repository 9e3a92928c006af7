"""Storing a climate record: air and steel as read, dew point and verdict as the standards core finds them."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from accounts.models import Person
from inspection.fieldwork.models import ClimateRecord
from inspection.fieldwork.observing import Observing, observe, run_out_of
from inspection.fieldwork.storing import LONGEST_NOTE, content_digest, moments, words
from inspection.foundation.refusals import Fault, Refused
from inspection.instruments import overdue
from inspection.instruments.models import Gauge
from inspection.projects.models import Coat, InspectionArea, Project, Station
from inspection.standards import InputFault, calculate

SEA_LEVEL_HPA = Decimal("1013.25")
# Steel in the sun, or heated, differs from the air by less; °F typed as °C mostly by more. Our own limit.
FAR_APART_C = 40
# Most of what is typed in °F on a day fit for painting lies above it, and few sites do. Our own limit.
HOT_AIR_C = 40
FREEZING_F, FAHRENHEIT_STEP = 32, Decimal(5) / 9
ONE_TENTH = Decimal("0.1")
TENTHS = ("dry_bulb_c", "wet_bulb_c", "relative_humidity_pct", "surface_c", "warmest_surface_c")
READ = ("dry_bulb_c", "wet_bulb_c", "relative_humidity_pct", "surface_c", "pressure_hpa")
# Told where somebody looked or measured; digests of records from before they were asked hold none of them.
ALSO_TOLD = ("warmest_surface_c", "wind_m_s", "rain", "dehumidifier_on")
# A gale is 17 m/s and more; nobody paints outdoors in it (common practice, no source).
STRONGEST_WIND_M_S = 60
NO_COAT = "No coat was named: only the margin above the dew point was judged, by the usual 3 °C."
# The limits of a coat under the names the calculation knows them by.
LIMITS = {
    "minimum_air_c": "air_min_c",
    "maximum_air_c": "air_max_c",
    "minimum_surface_c": "surface_min_c",
    "maximum_surface_c": "surface_max_c",
    "minimum_relative_humidity_pct": "humidity_min_pct",
    "maximum_relative_humidity_pct": "humidity_max_pct",
    "minimum_margin_c": "margin_min_c",
}


def record_climate(
    by: Person,
    *,
    id: UUID,  # noqa: A002 - the record's own name for it, in every action and in the API
    project: Project,
    area: InspectionArea,
    coat: Coat | None = None,
    station: Station | None = None,
    taken_at: datetime,
    dry_bulb_c: Decimal,
    wet_bulb_c: Decimal | None = None,
    wet_bulb_over: str = "",
    relative_humidity_pct: Decimal | None = None,
    surface_c: Decimal,
    warmest_surface_c: Decimal | None = None,
    wind_m_s: Decimal | None = None,
    rain: str | None = None,
    dehumidifier_on: bool | None = None,
    pressure_hpa: Decimal = SEA_LEVEL_HPA,
    gauge: Gauge | None = None,
    note: str = "",
    source: str = ClimateRecord.Source.PAGE,
    replaces: ClimateRecord | None = None,
    replacement_reason: str = "",
    ask: bool = False,
) -> tuple[ClimateRecord, bool]:
    """Store air and steel at one place and time with the verdict for the coat; True when the record is new.

    Temperatures in °C, humidity in % and wind in m/s, to a tenth; `wet_bulb_over` (water or ice) is asked at or below
    0 °C. Without a coat the margin alone is judged. A correction stays with the station it corrects. Raises as
    `record_thickness` does; a new record by the page also where its meter has no certificate to rely on, unless the
    company only warns. With `ask`, what is doubtful raises Asked, and nothing is stored.
    """
    if replaces is not None:
        station = _station_corrected(replaces, area)
    record = ClimateRecord(
        id=id, project=project, area=area, coat=coat, gauge=gauge, taken_by=by, taken_at=taken_at, ended_at=taken_at,
        note=note, source=source, replaces=replaces, replacement_reason=replacement_reason, dry_bulb_c=dry_bulb_c,
        wet_bulb_c=wet_bulb_c, relative_humidity_pct=relative_humidity_pct, surface_c=surface_c,
        pressure_hpa=pressure_hpa, inputs={"wet_bulb_over": wet_bulb_over or None}, station=station,
        warmest_surface_c=warmest_surface_c, wind_m_s=wind_m_s, rain=rain or None, dehumidifier_on=dehumidifier_on,
    )  # fmt: skip
    return observe(record, OBSERVING, ask=ask)


def _station_corrected(replaces: ClimateRecord, area: InspectionArea) -> Station | None:
    if replaces.station is not None and area != replaces.area:
        raise Refused(
            f"This was read at station {replaces.station.code} for all it serves. Leave {replaces.area.label} and put "
            "its figures right; which areas the station serves is said on its own page.", field="area",
        )  # fmt: skip
    return replaces.station


def _read(record: ClimateRecord) -> dict[str, Any]:
    """What the rule is given of what was read; the warmest steel only where it was told."""
    warmest = {} if record.warmest_surface_c is None else {"warmest_surface_c": record.warmest_surface_c}
    return {name: getattr(record, name) for name in READ} | warmest


def _judge(record: ClimateRecord) -> None:
    """Fill in what the standards core finds of the readings."""
    read = _read(record)
    record.inputs, result = judge_climate(record.coat, {**read, **record.inputs})
    record.result, record.verdict, record.margin_c = result, result["verdict"], result["margin_c"]
    record.found_humidity_pct, record.dew_point_c = result["relative_humidity_pct"], result["dew_point_c"]


def _questions(record: ClimateRecord) -> list[Fault]:
    """What looks like a slip; at or below freezing also frost, which the margin does not show."""
    doubts = doubts_of(record)
    if doubts or record.surface_c <= 0:
        return [*doubts, *(Fault(note) for note in record.result["notes"])]
    return []


def climate_digest(record: ClimateRecord) -> str:
    """SHA-256 of what the sender sent of a climate record."""
    given = {name: value for name in ("station_id", *ALSO_TOLD) if (value := getattr(record, name)) is not None}
    told = {name: float(value) if isinstance(value, Decimal) else value for name, value in given.items()}
    return content_digest(record, ("gauge_id", *READ), wet_bulb_over=record.inputs.get("wet_bulb_over") or "", **told)


def judged_again(record: ClimateRecord) -> str:
    """The verdict that what is stored as read gives under the limits it was judged by; none where it gives none."""
    read = {name: float(value) for name, value in _read(record).items() if value is not None}
    try:
        return str(calculate("climate-limits", {**record.inputs, **read})["verdict"])
    except InputFault:
        return "none"


def warnings_of(record: ClimateRecord) -> list[str]:
    """A sentence for each thing that casts doubt on a record, though it is stored."""
    doubts = (fault.message for fault in doubts_of(record))
    return [*overdue.words(run_out_of(record)), *record.result.get("notes", ()), *doubts]


def doubts_of(record: ClimateRecord) -> list[Fault]:
    """What looks like a slip, above all °F typed as °C."""
    air, steel = record.dry_bulb_c, record.surface_c
    doubts = []
    if air > HOT_AIR_C:
        meant = (air - FREEZING_F) * FAHRENHEIT_STEP
        doubts.append(
            Fault(
                f"Air at {air:.1f} °C: was it read in °F? {air:.1f} °F are {meant:.1f} °C. "
                f"More than {HOT_AIR_C} °C is doubted here by our own limit; no standard gives one.",
                "dry_bulb_c",
            )
        )
    if abs(steel - air) > FAR_APART_C:
        doubts.append(
            Fault(
                f"Steel at {steel:.1f} °C and air at {air:.1f} °C lie {abs(steel - air):.1f} °C apart; "
                f"check that both were typed in °C. More than {FAR_APART_C} °C is doubted here by our own limit; no "
                "standard gives one.",
                "surface_c",
            )
        )
    return doubts


def judge_climate(coat: Coat | None, values: dict[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """Inputs and answer of `climate-limits` for what was read, against the coat's limits. Raises Refused by field.

    Without a coat the usual margin alone is judged, and the notes say so.
    """
    limits = {name: getattr(coat, column) for name, column in LIMITS.items()} if coat else {}
    inputs = {
        name: float(value) if isinstance(value, Decimal) else value
        for name, value in {**values, **limits}.items()
        if value is not None
    }
    try:
        result = calculate("climate-limits", inputs)
    except InputFault as wrong:
        raise Refused(Fault(fault.message, fault.field) for fault in wrong.faults) from wrong
    return inputs, result if coat else {**result, "notes": [NO_COAT]}


def _refuse_faulty(record: ClimateRecord) -> None:
    """Raise Refused for what a column could not hold exactly; ranges are the standards core's to judge."""
    faults = [
        *moments(taken_at=record.taken_at),
        *words(note=(record.note, LONGEST_NOTE), replacement_reason=(record.replacement_reason, LONGEST_NOTE)),
    ]
    if record.coat is None and record.station is None:
        faults.append(Fault("Say for which coat; only a reading at a climate station can be for none.", "coat"))
    wind = record.wind_m_s
    if wind is not None and not (wind.is_finite() and 0 <= wind <= STRONGEST_WIND_M_S):
        faults.append(Fault(f"Give the wind in m/s, from 0 to {STRONGEST_WIND_M_S}.", "wind_m_s"))
    if record.rain and record.rain not in ClimateRecord.Rain.values:
        faults.append(Fault(f"Give one of {', '.join(ClimateRecord.Rain.values)}.", "rain"))
    if record.warmest_surface_c is not None and record.warmest_surface_c < record.surface_c:
        faults.append(Fault("The warmest steel is colder than the coldest; were the two swapped?", "warmest_surface_c"))
    if record.gauge and record.gauge.kind != Gauge.Kind.CLIMATE:
        faults.append(Fault(f"{record.gauge} is no climate meter; choose the one that was used, or none.", "gauge"))
    for name in TENTHS:
        value = getattr(record, name)
        if value is not None and not value.is_finite():
            faults.append(Fault("Give a number.", name))
        elif value is not None and (abs(value) >= 1000 or value != value.quantize(ONE_TENTH)):
            faults.append(Fault(f"{str(value)[:20]} has too many digits; give at most one after the point.", name))
    if faults:
        raise Refused(faults)


def _told(record: ClimateRecord) -> dict[str, Any]:
    at = {"station": record.station.code} if record.station else {}
    return {**at, "dew_point_c": round(record.dew_point_c, 2), "margin_c": round(record.margin_c, 2)}


def _because(record: ClimateRecord) -> str:
    taken = f"{record.taken_at.astimezone(record.project.zone):%Y-%m-%d %H:%M}"
    place = f"station {record.station.code}" if record.station else record.area.label
    about = f"The climate record of {place}{f' and {record.coat.name}' if record.coat else ''}, {taken}"
    return f"{about}{', was corrected' if record.replaces else ''}: {record.get_verdict_display().lower()}."


OBSERVING = Observing(
    refuse_faulty=_refuse_faulty, digest=climate_digest, judge=_judge, questions=_questions, told=_told,
    evidence="climate", because=_because,
)  # fmt: skip
