"""The places of a field pack: areas with how they stand, systems with their coats, points that are open, windows."""

from __future__ import annotations

import copy
from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import F

from accounts.models import Person
from inspection.fieldapp.told_fields import Told
from inspection.fieldwork.models import Latest, Record, ThicknessRecord
from inspection.fieldwork.signals import carried, repair
from inspection.holdpoints.models import HoldPoint
from inspection.holdpoints.queries import points_seen_by
from inspection.projects.limits import Limits
from inspection.projects.models import Coat, CoatingSystem, InspectionArea, Project, StationArea
from inspection.projects.queries import systems_seen_by
from inspection.projects.serializers import SystemSerializer
from inspection.projects.steps import lay_films
from inspection.works.lots.queries import areas_for
from inspection.works.lots.recoat import project_windows

State = HoldPoint.State


def places(person: Person, project: Project, at: datetime) -> Told:
    """In a number of reads that does not grow with areas, coats, points or records."""
    areas = list(areas_for(person, project).filter(retired_at=None))
    used = {area.system_id for area in areas}
    seen = systems_seen_by(person).filter(project=project)
    systems = [each for each in seen if each.pk in used or _in_force(each)]
    by_id = {system.pk: system for system in systems}
    found: dict[str, dict[UUID, Any]] = {
        "limits": _films(areas, by_id), "latest": _latest(person, project), "stations": _served(areas),
        **_failed(person, project),
    }  # fmt: skip
    return {
        "systems": [told_system(system) for system in systems],
        "areas": [
            told_area(area) | {name: rows[area.pk] for name, rows in found.items() if area.pk in rows} for area in areas
        ],
        "points": list(_points(person, project, {area.pk for area in areas})),
        "windows": [
            {"area": window.area.pk, "coat": window.coat.pk, "following": window.following.pk,
             "ended_at": window.ended_at, "state": window.clock.state, "opens_at": window.clock.opens_at,
             "closes_at": window.clock.closes_at}
            for window in project_windows(person, project, at)
        ],
    }  # fmt: skip


def told_area(area: InspectionArea) -> Told:
    """What every form and screen has to know of an area."""
    return {
        "id": area.pk, "code": area.code, "name": area.name, "structure": area.structure.name,
        "section": area.section.path if area.section else "", "area_m2": str(area.area_m2), "system": area.system_id,
        **({"tank_sizes": area.tank_sizes} if area.tank_sizes else {}),
        **({"part_of": area.repair_of_id} if area.repair_of_id else {}),
    }  # fmt: skip


def told_system(system: CoatingSystem) -> Told:
    """As the API shows it; each coat also with the rule it is judged by on the phone, its limits in nanometres."""
    told: Told = dict(SystemSerializer(system).data)
    told["coats"] = [
        coat | told_rule(row) for coat, row in zip(told["coats"], system.coats.all(), strict=True)
    ]  # fmt: skip
    return told


def told_rule(coat: Coat) -> Told:
    declared = {"name": coat.declared_name, "document": coat.declared_document, **(coat.declared or {})}
    return {
        "rule": coat.rule, "rule_name": coat.rule_name, "pa2_level": coat.pa2_level,
        "declared": declared if coat.declaration else None, **_limits(coat.through),
    }  # fmt: skip


def _limits(through: Limits) -> Told:
    return {f"{name}_nm": limit for name, limit in through._asdict().items()}


def _in_force(system: CoatingSystem) -> bool:
    return system.taken_back_at is None and (system.revises_id is None or system.applied_at is not None)


def _films(areas: Iterable[InspectionArea], systems: dict[UUID, CoatingSystem]) -> dict[UUID, Told]:
    """By area its limits coat by coat, where a coat of a former revision lies under those of its system."""
    placed = [
        (area.pk, copy.copy(coat))
        for area in areas
        if (system := systems.get(area.system_id)) is not None and system.number
        for coat in system.coats.all()
    ]
    lay_films(placed)
    found: dict[UUID, Told] = defaultdict(dict)
    for area, coat in placed:
        if coat.film:
            found[area][str(coat.pk)] = _limits(coat.through)
    return found


def _latest(person: Person, project: Project) -> dict[UUID, list[Any]]:
    """By area what stands there: kind, coat or none, verdict and moment; nothing of records that are not seen."""
    seen = Record.objects.visible_to(person).filter(project=project)
    rows = Latest.objects.filter(record__in=seen.order_by().values("pk"), area__structure__project=project)
    columns = ("area", "kind", "coat", "record__verdict", "record__taken_at")
    found: dict[UUID, list[Any]] = defaultdict(list)
    for area, *what in rows.order_by("area", "coat__order", "kind").values_list(*columns):
        found[area].append(what)
    return found


def _served(areas: list[InspectionArea]) -> dict[UUID, list[UUID]]:
    """By area the stations that serve it now."""
    found: dict[UUID, list[UUID]] = defaultdict(list)
    rows = StationArea.objects.filter(area__among=[area.pk for area in areas], ended_at=None, station__ended_at=None)
    for area, station in rows.order_by("area", "station__code").values_list("area", "station"):
        found[area].append(station)
    return found


def _failed(person: Person, project: Project) -> dict[str, dict[UUID, Any]]:
    """By area the coats after which it failed and stands with its repaired part; and by coat every such part."""
    seen = Record.objects.visible_to(person).filter(project=project, kind=ThicknessRecord.KIND, verdict="fail")
    failed = Latest.objects.filter(record__in=seen.order_by().values("pk"), area__structure__project=project)
    rows = failed.annotate(last_record=F("record_id")).annotate(carried=carried(), repair=repair())
    stands: dict[UUID, list[UUID]] = defaultdict(list)
    beside: dict[UUID, dict[str, UUID]] = defaultdict(dict)
    found = rows.exclude(repair=None).order_by("area", "coat__order").values_list("area", "coat", "repair", "carried")
    for area, coat, part, is_carried in found:
        beside[area][str(coat)] = part
        if is_carried:
            stands[area].append(coat)
    return {"carried": stands, "repairs": beside}


def _points(person: Person, project: Project, areas: set[UUID]) -> Iterable[Told]:
    rows = points_seen_by(person).filter(project=project, state__in=(State.WAITING, State.REFUSED))
    columns = ("id", "area", "coat", "kind", "title", "state", "lies")
    for row in rows.order_by("area__code", "coat__order", "pk").values(*columns):
        if row["area"] in areas:
            yield row | {"lies": HoldPoint.Lies(row["lies"]).name.lower()}
