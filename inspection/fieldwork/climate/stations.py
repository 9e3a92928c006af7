"""Climate stations: declared, changed, ended and taken back; what they serve; and a reading taken at one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.fieldwork.climate.recording import record_climate
from inspection.fieldwork.latest import keep_climate
from inspection.fieldwork.models import ClimateRecord
from inspection.fieldwork.served import served_areas
from inspection.fieldwork.storing import moments
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.text import line
from inspection.instruments.signals import evidence_changed
from inspection.projects.actions import goes_on
from inspection.projects.corrections import reason_faults
from inspection.projects.models import Coat, InspectionArea, Project, Station, StationArea
from inspection.projects.preconditions import in_sight, row_faults, save_new, snapshot

LONGEST_CODE, LONGEST_NAME = 20, 120
MOST_COATS = 12
LONGEST_HOLD = timedelta(hours=24)
CHANGED = ("code", "name", "where", "dehumidifier", "holds_for")
# "how long a reading counts" is kept by the journal in hours.
HOURS = timedelta(hours=1)


@transaction.atomic
def declare_station(
    by: Person, *, project: Project, code: str, name: str, where: str, areas: Sequence[InspectionArea],
    since: datetime, dehumidifier: bool = False, holds_h: float = 4, id: UUID | None = None,  # noqa: A002 - the sender's
) -> tuple[Station, bool]:  # fmt: skip
    """Declare a station and what it serves from a moment on; True when it is new, the same id again changes nothing."""
    _may(by, project)
    station = Station(project=project, where=where, dehumidifier=dehumidifier, **({"id": id} if id else {}))
    _fill(station, code=code, name=name, holds_h=holds_h)
    stored = Station.objects.filter(pk=station.pk).first()
    if stored is not None:
        in_sight(by, stored)
        if [getattr(stored, each) for each in ("project_id", *CHANGED)] != [
            getattr(station, each) for each in ("project_id", *CHANGED)
        ]:
            raise Conflict(Fault("A station with this id is declared already, otherwise.", "id"))
        return stored, False
    goes_on(project)
    save_new(station, already=_taken(station), field="code")
    journal.record("station.declared", station, by=by, project_id=project.pk, after=_told(station))
    _serve(by, station, areas, since)
    return station, True


@transaction.atomic
def change_station(
    by: Person, *, station: Station, code: str, name: str, where: str, dehumidifier: bool, holds_h: float, reason: str
) -> Station:
    """Put what was declared right; how long a reading counts holds for those already taken too."""
    station = _held(by, station)
    before, station.where, station.dehumidifier = _told(station), where, dehumidifier
    _fill(station, code=code, name=name, holds_h=holds_h)
    if faults := reason_faults(reason) + row_faults(station):
        raise Refused(faults)
    if _told(station) == before:
        raise Refused("Nothing differs from what is stored.")
    try:
        with transaction.atomic():
            station.save(update_fields=list(CHANGED))
    except IntegrityError:
        raise Conflict(Fault(_taken(station), "code")) from None
    _journal("station.changed", station, by, before, reason)
    _announce(by, station, None, f"Climate station {station.code} was changed: {reason.strip()}")
    return station


@transaction.atomic
def serve_areas(
    by: Person, *, station: Station, areas: Sequence[InspectionArea], since: datetime, reason: str
) -> Station:
    """Let the station serve exactly these areas from a moment on, which may have passed; readings follow."""
    station = _held(by, station)
    if faults := reason_faults(reason):
        raise Refused(faults)
    _serve(by, station, areas, since, reason)
    return station


@transaction.atomic
def end_station(by: Person, *, station: Station, reason: str) -> Station:
    """End it: nothing more is read there. What was read stays."""
    station = _held(by, station)
    if faults := reason_faults(reason):
        raise Refused(faults)
    if station.ended_at:
        raise Conflict(f"Station {station.code} has ended already.")
    before = _told(station)
    station.ended_at, station.ended_why = timezone.now(), reason.strip()
    station.save(update_fields=["ended_at", "ended_why"])
    _journal("station.ended", station, by, before, reason)
    return station


@transaction.atomic
def restore_station(by: Person, *, station: Station, reason: str) -> Station:
    """Take its end back."""
    station = _held(by, station)
    if faults := reason_faults(reason):
        raise Refused(faults)
    if station.ended_at is None:
        raise Conflict(f"Station {station.code} has not ended.")
    before = _told(station)
    station.ended_at, station.ended_why = None, ""
    station.save(update_fields=["ended_at", "ended_why"])
    _journal("station.restored", station, by, before, reason)
    return station


@transaction.atomic
def record_at_station(
    by: Person, *, id: UUID, station: Station, coats: Iterable[Coat], taken_at: datetime,  # noqa: A002 - the sender's
    ask: bool = False, **read: Any,
) -> tuple[list[ClimateRecord], bool]:  # fmt: skip
    """One reading for all the station serves: a record for each coat under way there, or one for none; True when new.

    Each is judged against the limits of its coat. The first bears the id that was sent, the others ids made from it, so
    that the same sent again is found. Raises as `record_climate` does.
    """
    _may(by, station.project)
    in_sight(by, station)
    # Held, so that two readings of one station stand in one order.
    station = Station.objects.select_for_update(of=("self",)).select_related("project").get(pk=station.pk)
    asked = sorted(set(coats), key=lambda coat: coat.pk)
    if len(asked) > MOST_COATS:
        raise Refused(f"Choose at most {MOST_COATS} coats.", field="coats")
    if faults := moments(taken_at=taken_at):
        raise Refused(faults)
    found: list[ClimateRecord] = []
    new = False
    for place, coat in enumerate(asked or [None]):
        own = id if coat is None or place == 0 else uuid5(id, str(coat.pk))
        area = _stored_at(own, station) or first_served(station, coat, taken_at)
        record, is_new = record_climate(
            by, id=own, project=station.project, area=area, coat=coat, station=station, taken_at=taken_at, ask=ask,
            **read,
        )  # fmt: skip
        found, new = [*found, record], new or is_new
    return found, new


def _stored_at(pk: UUID, station: Station) -> InspectionArea | None:
    """The area of the record that was stored under the id before, whatever the station serves now."""
    stored = ClimateRecord.objects.filter(pk=pk, station=station).select_related("area__structure").first()
    return stored.area if stored else None


def first_served(station: Station, coat: Coat | None, at: datetime) -> InspectionArea:
    """The first area served at the moment that has the coat: the record lies there. Raises Refused where none has."""
    served = served_areas(station.pk, at).select_related("structure", "system")
    of_coat = served if coat is None else served.filter(_has(coat))
    area = of_coat.first()
    if area is not None:
        return area
    when = f"{at.astimezone(station.project.zone):%Y-%m-%d %H:%M}"
    if not served.exists():
        raise Refused(
            f"Station {station.code} served no area at {when}. Say on its page from when it serves which.",
            field="taken_at",
        )
    name = coat.name if coat else ""
    raise Refused(f"No area that station {station.code} served at {when} has the coat {name}.", field="coats")


def _has(coat: Coat) -> Q:
    """Of areas: of the coat's system now, or formerly."""
    return Q(system=coat.system_id) | Q(former_systems__system=coat.system_id)


def coats_under(station: Station, at: datetime) -> Any:
    """The coats of the areas that the station serves at the moment, by system and order."""
    systems = served_areas(station.pk, at).order_by().values("system")
    return Coat.objects.filter(system__in=systems).select_related("system").order_by("system__name", "order")


def _may(by: Person, project: Project) -> None:
    require(by, Role.INSPECTOR, Role.QUALITY_MANAGER, to="keep climate stations")
    in_sight(by, project)


def _held(by: Person, station: Station) -> Station:
    _may(by, station.project)
    in_sight(by, station)
    found: Station = Station.objects.select_for_update(of=("self",)).select_related("project").get(pk=station.pk)
    goes_on(found.project)
    return found


def _fill(station: Station, *, code: str, name: str, holds_h: float) -> None:
    faults: list[Fault] = []
    for field, words, most in (("code", code, LONGEST_CODE), ("name", name, LONGEST_NAME)):
        try:
            setattr(station, field, line(words, field=field, most=most))
        except Refused as refusal:
            faults += refusal.faults
    most_h = LONGEST_HOLD // HOURS
    if 0 < holds_h <= most_h:
        station.holds_for = timedelta(hours=float(holds_h))
    if not 0 < holds_h <= most_h or station.holds_for <= timedelta(0):
        faults.append(Fault(f"Give the hours a reading counts, above 0 and at most {most_h}.", "holds_h"))
    if station.where not in Station.Where.values:
        faults.append(Fault(f"Give one of {', '.join(Station.Where.values)}.", "where"))
    if faults:
        raise Refused(faults)


def _taken(station: Station) -> str:
    return f"There is already a station {station.code} in this project."


def _told(station: Station) -> dict[str, Any]:
    return {**snapshot(station), "holds_for": station.holds_h}


def _journal(verb: str, station: Station, by: Person, before: dict[str, Any], reason: str) -> None:
    journal.record(
        verb, station, by=by, project_id=station.project_id, before=before, after=_told(station), reason=reason.strip()
    )


def _serve(
    by: Person, station: Station, areas: Sequence[InspectionArea], since: datetime, reason: str = ""
) -> None:  # fmt: skip
    """Cut what was served at the moment, and let it be these from there on."""
    if faults := moments(since=since):
        raise Refused(faults)
    if not areas:
        raise Refused("Choose at least one area; a station that serves none is ended.", field="areas")
    wanted = {area.pk: area for area in areas}
    there = InspectionArea.objects.filter(pk__in=wanted, structure__project=station.project_id)
    if there.count() != len(wanted):
        raise Refused(f"Choose areas of {station.project.code}.", field="areas")
    rows = list(StationArea.objects.filter(station=station).filter(Q(ended_at=None) | Q(ended_at__gt=since)))
    touched = set(wanted) | {row.area_id for row in rows}
    kept, cut, gone = set(), [], []
    before = sorted({row.area_id for row in rows if row.ended_at is None}, key=str)
    for row in sorted(rows, key=lambda row: row.begun_at):
        if row.area_id in wanted and row.area_id not in kept and row.begun_at <= since:
            kept.add(row.area_id)
            row.ended_at = None
            cut.append(row)
        elif row.begun_at < since:
            row.ended_at = since
            cut.append(row)
        else:
            gone.append(row.pk)
    StationArea.objects.filter(pk__in=gone).delete()
    StationArea.objects.bulk_update(cut, ["ended_at"], batch_size=500)
    StationArea.objects.bulk_create(
        StationArea(station=station, area_id=pk, begun_at=since) for pk in wanted if pk not in kept
    )
    journal.record(
        "station.serves", station, by=by, project_id=station.project_id, reason=reason.strip(),
        before={"areas": _codes(before)}, after={"areas": _codes(wanted), "since": since},
    )  # fmt: skip
    _announce(by, station, touched, f"Climate station {station.code} serves other areas since {since:%Y-%m-%d %H:%M}.")


def _codes(areas: Iterable[UUID]) -> list[str]:
    return sorted(InspectionArea.objects.filter(pk__in=list(areas)).values_list("code", flat=True))


def _announce(by: Person, station: Station, areas: set[UUID] | None, because: str) -> None:
    """Let what stands at the areas, and the points on them, follow."""
    if areas is None:
        areas = set(StationArea.objects.filter(station=station).values_list("area", flat=True))
    else:
        keep_climate(areas)
    evidence_changed.send(sender=ClimateRecord, by=by, areas=areas, because=because)
