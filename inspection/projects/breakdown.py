"""Changes of an inspection area: measured again, renamed, moved, retired, brought back; each with its reason.

Records stay where they were taken, judged by what was known then; what other rooms have at an area is asked of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.text import line
from inspection.projects.actions import goes_on
from inspection.projects.areas import code_faults, code_taken, rounded, rounded_length, size_faults, tell_apart
from inspection.projects.corrections import reason_faults
from inspection.projects.models import Coat, CoatingSystem, FormerSystem, InspectionArea, Section, Structure
from inspection.projects.preconditions import in_sight, row_faults, snapshot
from inspection.projects.signals import area_touched, areas_changed
from inspection.projects.steps import coats_now


class Change(StrEnum):
    """What is done to an area, as other rooms are told of it."""

    MEASURED = "measured again"
    RENAMED = "renamed"
    MOVED = "moved"
    RETIRED = "retired"
    RESTORED = "brought back"
    DIVIDED = "divided"
    MERGED = "merged"
    SYSTEM = "given another coating system"
    REVISED = "moved with its unfinished coats to another revision of its coating system"


def touched(by: Person, areas: Sequence[InspectionArea], change: Change, **sent: Any) -> list[str]:
    """What hangs on the areas and what becomes of it, in sentences, room by room."""
    answers: list[tuple[Any, Any]] = area_touched.send(
        sender=InspectionArea, by=by, areas=list(areas), change=change, **sent
    )
    return [sentence for _, found in answers for sentence in found]


def touched_by_table(by: Person, resized: Sequence[InspectionArea], moved: Sequence[InspectionArea]) -> list[str]:
    """What hangs on the areas that a table gives another size, or hangs elsewhere."""
    told = touched(by, resized, Change.MEASURED) if resized else []
    return told + (touched(by, moved, Change.MOVED) if moved else [])


@transaction.atomic
def measure_again(
    by: Person,
    *,
    area: InspectionArea,
    area_m2: Decimal,
    edges_m: Decimal | None,
    welds_m: Decimal | None,
    reason: str,
) -> InspectionArea:
    """Give an area another size: its surface in m², the lengths of its edges and welds in m where they are known.

    What is recorded from now on is judged by it; what was judged keeps what it was judged by.
    """
    locked = hold(by, area, to="measure an area again", reason=reason)
    faults = size_faults(area_m2=area_m2, edges_m=edges_m, welds_m=welds_m)
    if locked.repair_of and area_m2 > locked.repair_of.area_m2:
        told = f"{locked.repair_of.label} has {locked.repair_of.area_m2} m², and a part of it no more."
        faults.append(Fault(told, "area_m2"))
    if faults:
        raise Refused(faults)
    sizes = {"area_m2": rounded(area_m2), "edges_m": rounded_length(edges_m), "welds_m": rounded_length(welds_m)}
    return _changed(by, locked, sizes, verb="area.measured_again", reason=reason)


@transaction.atomic
def rename_area(by: Person, *, area: InspectionArea, code: str, name: str, shape: str, reason: str) -> InspectionArea:
    """Give an area another code, name or shape. Everything shows the new ones; issued papers keep the former."""
    locked = hold(by, area, to="rename an area", reason=reason)
    code, former = line(code, field="code", most=60), locked.code
    if faults := code_faults(locked.structure, code, but=locked):
        raise Refused(faults)
    _changed(by, locked, {"code": code, "name": name.strip(), "shape": shape}, verb="area.renamed", reason=reason)
    tell_apart(locked.structure.project_id, former, code)
    return locked


@transaction.atomic
def move_area(
    by: Person, *, area: InspectionArea, structure: Structure, section: Section | None, reason: str
) -> InspectionArea:
    """Hang an area in another section, or on another structure of its project, where its code is free."""
    locked = hold(by, area, to="move an area", reason=reason)
    in_sight(by, structure, *([section] if section else []))
    faults = []
    if structure.project_id != locked.structure.project_id:
        faults.append(Fault("The structure belongs to another project.", "structure"))
    elif structure.pk != locked.structure_id:
        faults += [Fault(fault.message, "structure") for fault in code_faults(structure, locked.code)]
    if section and section.structure_id != structure.pk:
        faults.append(Fault(f"The section belongs to another structure than {structure}.", "section"))
    if faults:
        raise Refused(faults)
    _changed(by, locked, {"structure": structure, "section": section}, verb="area.moved", reason=reason)
    tell_apart(structure.project_id, locked.code)
    return locked


@transaction.atomic
def retire_area(by: Person, *, area: InspectionArea, reason: str) -> InspectionArea:
    """Take an area out of use. Nothing new begins there; what is recorded and decided stays."""
    locked = hold(by, area, to="retire an area", reason=reason)
    stands_by_itself(locked)
    return retire(by, [locked], Change.RETIRED, reason=reason)[0]


def retire(
    by: Person, areas: Sequence[InspectionArea], change: Change, *, reason: str, parts: Sequence[InspectionArea] = ()
) -> list[InspectionArea]:
    """Retire areas that are held, within the caller's transaction; what they give way to are the parts."""
    at = timezone.now()
    for area in areas:
        if area.retired_at:
            raise Conflict(retired_words(area))
        _set_retired(by, area, at, reason.strip(), verb="area.retired", reason=reason)
    _tell(by, areas, change, at=at, parts=parts, reason=reason)
    return list(areas)


def restore(by: Person, areas: Sequence[InspectionArea], *, reason: str) -> list[InspectionArea]:
    """Bring retired areas that are held back into use, within the caller's transaction."""
    for area in areas:
        at = area.retired_at
        _set_retired(by, area, None, "", verb="area.restored", reason=reason)
        _tell(by, [area], Change.RESTORED, at=at, reason=reason)
    return list(areas)


@transaction.atomic
def change_system(by: Person, *, area: InspectionArea, system: CoatingSystem, reason: str) -> InspectionArea:
    """Give an area another coating system of its project. What was recorded under the former stays, known by it.

    Points after coats of the former that nobody has released are closed; they wait again if the area is given it back.
    """
    locked = hold(by, area, to="change the coating system of an area", reason=reason)
    in_sight(by, system)
    still_in_use(locked)
    stands_by_itself(locked)
    if not CoatingSystem.objects.in_force().filter(pk=system.pk).exists():
        raise Refused(f"{system} is not in force; choose the revision that is.", field="system")
    if system.project_id != locked.structure.project_id:
        raise Refused("The coating system belongs to another project.", field="system")
    former, at = locked.system, timezone.now()
    _changed(by, locked, {"system": system}, verb="area.system_changed", reason=reason)
    before = locked.former_systems.filter(system=system).last()
    FormerSystem.objects.create(area=locked, system=former, left_at=at)
    back = before.left_at if before else None
    _tell(by, [locked], Change.SYSTEM, at=at, reason=reason, back=back)
    return locked


def of_system(area: InspectionArea, coat: Coat) -> None:
    """Raise Refused unless the coat is a step of the area as it is now, of its system or kept of a former revision."""
    if area.pk not in coats_now([area], coat):
        raise Refused(f"{coat.name} is no coat of the system on area {area.label}; choose one that is.", field="coat")


def former_system(area: InspectionArea, coat: Coat) -> FormerSystem | None:
    """The system of the coat where the area had it before, as it was left last; None where it has it now."""
    if coat.system_id == area.system_id:
        return None
    return area.former_systems.filter(system=coat.system_id).last()


def retired_words(area: InspectionArea) -> str:
    """That an area is out of use, since when and why."""
    since = area.retired_at.astimezone(area.structure.project.zone) if area.retired_at else None
    return f"{area.label} was retired on {since:%Y-%m-%d %H:%M}: {area.retired_why}" if since else ""


def still_in_use(area: InspectionArea) -> None:
    """Raise Conflict where the area is retired: nothing new begins there."""
    if area.retired_at:
        raise Conflict(Fault(f"{retired_words(area)} Nothing new begins there.", "area"))


def stands_by_itself(*areas: InspectionArea) -> None:
    """Raise Conflict where one is a repaired part, which lasts as long as what was found on its area."""
    for area in areas:
        if area.repair_of:
            told = f"{area.label} is a repaired part of {area.repair_of.label}; it is undone on its nonconformance."
            raise Conflict(Fault(told, "area"))


def hold(by: Person, area: InspectionArea, *, to: str, reason: str) -> InspectionArea:
    """The area as it is now, held until the transaction ends, for a quality manager who says why it is changed."""
    return hold_all(by, [area], to=to, reason=reason)[0]


def hold_all(by: Person, areas: Sequence[InspectionArea], *, to: str, reason: str) -> list[InspectionArea]:
    """The areas as they are now, held in one order, so that two who hold several do not wait for one another."""
    require(by, Role.QUALITY_MANAGER, to=to)
    in_sight(by, *areas)
    rows = InspectionArea.objects.select_for_update(of=("self",)).select_related(
        "structure__project", "section", "system", "repair_of"
    )
    locked = list(rows.filter(pk__in=[area.pk for area in areas]).order_by("pk"))
    for area in locked:
        goes_on(area.structure.project)
    if faults := reason_faults(reason):
        raise Refused(faults)
    return locked


def _changed(by: Person, area: InspectionArea, values: dict[str, Any], *, verb: str, reason: str) -> InspectionArea:
    """Store what differs of a held area, with the journal's entry. Raises Refused where nothing does."""
    before = snapshot(area)
    for name, value in values.items():
        setattr(area, name, value)
    if wrong := row_faults(area):
        raise Refused(wrong)
    after = snapshot(area)
    changed = [column for column in after if after[column] != before[column]]
    if not changed:
        raise Refused("Nothing differs from what is stored.")
    try:
        with transaction.atomic():
            area.save(update_fields=list(values))
    except IntegrityError:
        raise Conflict(Fault(code_taken(area.structure, area.code), "code")) from None
    journal.record(
        verb, area, by=by, project_id=area.structure.project_id, before={each: before[each] for each in changed},
        after={each: after[each] for each in changed}, reason=reason.strip(),
    )  # fmt: skip
    return area


def _set_retired(by: Person, area: InspectionArea, at: datetime | None, why: str, *, verb: str, reason: str) -> None:
    before = {"retired_at": area.retired_at}
    area.retired_at, area.retired_why = at, why
    area.save(update_fields=["retired_at", "retired_why"])
    journal.record(
        verb, area, by=by, project_id=area.structure.project_id, before=before, after={"retired_at": at},
        reason=reason.strip(),
    )  # fmt: skip


def _tell(by: Person, areas: Sequence[InspectionArea], change: Change, *, reason: str, **sent: Any) -> None:
    named, were = ", ".join(area.label for area in areas), "was" if len(areas) == 1 else "were"
    because = f"{named} {were} {change}: {reason.strip()}"
    sent = {"parts": (), "back": None, **sent}
    areas_changed.send(sender=InspectionArea, by=by, areas=list(areas), change=change, because=because, **sent)
