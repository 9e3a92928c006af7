"""Inspection areas as they are added: one or many, their sizes and lengths, and how their codes are told apart."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from uuid import UUID

from django.db import transaction

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.text import line
from inspection.projects.actions import goes_on
from inspection.projects.models import CoatingSystem, InspectionArea, Section, Structure
from inspection.projects.preconditions import in_sight, save_new, snapshot

LARGEST_AREA_M2 = 1_000_000
LONGEST_LENGTH_M = 1_000_000


@transaction.atomic
def add_area(
    by: Person,
    *,
    structure: Structure,
    system: CoatingSystem,
    code: str,
    name: str,
    area_m2: Decimal,
    shape: str = InspectionArea.Shape.PLATE,
    section: Section | None = None,
    edges_m: Decimal | None = None,
    welds_m: Decimal | None = None,
) -> InspectionArea:
    """Add an inspection area, in m², to a structure or one of its sections, for one of the project's systems.

    The lengths of its edges and of its welds are in m, where they are known.
    """
    require(by, Role.QUALITY_MANAGER, to="add an inspection area")
    in_sight(by, structure, system, *([section] if section else []))
    goes_on(structure.project)
    code = line(code, field="code", most=60)
    faults = size_faults(area_m2=area_m2, edges_m=edges_m, welds_m=welds_m)
    if not CoatingSystem.objects.in_force().filter(pk=system.pk).exists():
        raise Refused(f"{system} is not in force; choose the revision that is.", field="system")
    if system.project_id != structure.project_id:
        faults.append(Fault("The coating system belongs to another project.", "system"))
    if section and section.structure_id != structure.pk:
        faults.append(Fault(f"The section belongs to another structure than {structure}.", "section"))
    faults += code_faults(structure, code)
    if faults:
        raise Refused(faults)
    area = InspectionArea(
        structure=structure, section=section, system=system, code=code, name=name.strip(), shape=shape,
        area_m2=rounded(area_m2), edges_m=rounded_length(edges_m), welds_m=rounded_length(welds_m),
    )  # fmt: skip
    save_new(area, already=code_taken(structure, code), field="code")
    tell_apart(structure.project_id, code)
    area.refresh_from_db(fields=["told_by"])
    journal.record("area.added", area, by=by, project_id=structure.project_id, after=snapshot(area))
    return area


def code_taken(structure: Structure, code: str) -> str:
    return f"{structure} already has an area {code}; choose another code."


def code_faults(structure: Structure, code: str, *, but: InspectionArea | None = None) -> list[Fault]:
    """What is wrong with a code on a structure; `but` is the area that may have it already. A retired one keeps its."""
    same = InspectionArea.objects.filter(structure=structure, code__iexact=code)
    taken = (same.exclude(pk=but.pk) if but else same).exists()
    return [Fault(code_taken(structure, code), "code")] if taken else []


def tell_apart(project: UUID, *codes: str) -> None:
    """Name the structure beside the code of each area of the project whose code another of its areas has too."""
    for code in {code.casefold(): code for code in codes}.values():
        same = InspectionArea.objects.filter(structure__project=project, code__iexact=code)
        twins = list(same.select_related("structure"))
        for twin in twins:
            twin.told_by = twin.structure.name if len(twins) > 1 else ""
        InspectionArea.objects.bulk_update(twins, ["told_by"])


def size_faults(*, area_m2: Decimal, edges_m: Decimal | None = None, welds_m: Decimal | None = None) -> list[Fault]:
    """What is wrong with the sizes of an area: its surface in m², the lengths of its edges and welds in m."""
    return area_faults(area_m2) + length_faults("edges_m", edges_m) + length_faults("welds_m", welds_m)


def area_faults(area_m2: Decimal) -> list[Fault]:
    """What is wrong with the size of an area, in m²."""
    if not area_m2.is_finite() or area_m2 <= 0:
        return [Fault("The area is more than 0 m²; give its size, such as 12.5.", "area_m2")]
    if area_m2 > LARGEST_AREA_M2:
        return [Fault(f"{area_m2} m² is more than any inspection area; check the figure or divide it.", "area_m2")]
    if area_m2.as_tuple().exponent == -3:
        return [Fault(_may_be_thousands(area_m2, "m²"), "area_m2")]
    if not rounded(area_m2):
        return [Fault(f"{area_m2} m² is less than can be kept; the least is 0.01 m².", "area_m2")]
    return []


def length_faults(field: str, length_m: Decimal | None) -> list[Fault]:
    """What is wrong with a length, in m; none is wrong where it is not known."""
    if length_m is None:
        return []
    if not length_m.is_finite() or length_m < 0:
        return [Fault("A length is 0 m or more; leave it empty where it is not known.", field)]
    if length_m > LONGEST_LENGTH_M:
        return [Fault(f"{length_m} m is more than one area has; check the figure.", field)]
    if length_m.as_tuple().exponent == -3:
        return [Fault(_may_be_thousands(length_m, "m"), field)]
    return []


def _may_be_thousands(size: Decimal, unit: str) -> str:
    thousands = str(size).replace(".", "")
    return f"{size} {unit} may be meant as thousands; write {rounded(size)} or {thousands}."


def rounded(size: Decimal) -> Decimal:
    """A size as it is kept, to a hundredth of its unit; drawings give more digits than steel has."""
    return size.quantize(Decimal("0.01"), ROUND_HALF_UP)


def rounded_length(length_m: Decimal | None) -> Decimal | None:
    return None if length_m is None else rounded(length_m)
