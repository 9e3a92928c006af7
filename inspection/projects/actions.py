"""Setting up a project: who takes part, what is inspected, what was specified. Quality managers do it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime, time
from decimal import Decimal
from itertools import pairwise
from typing import Any
from zoneinfo import available_timezones

from django.db import transaction
from django.utils import timezone

from accounts import journal, post
from accounts.models import Organisation, Person, Role, Scheme
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.units import Unit
from inspection.projects.coating import SaltsAs, SteelworkGrade, needs_of
from inspection.projects.declared_rule import DeclaredRule
from inspection.projects.limits import Limits, stated_or_summed, summed
from inspection.projects.models import KINDS_OF_ROLE, Coat, CoatingSystem, DataSheet, Membership, Project, Structure
from inspection.projects.preconditions import in_sight, row_faults, save_new, snapshot

MOST_SHIFTS = 6
MOST_COATS = 12
GREATEST_DUST = 5
MOST_HOURS_BARE = 1_000
TAKE_PART = (Role.INSPECTOR, Role.QUALITY_MANAGER, Role.CLIENT, Role.CONTRACTOR, Role.AUDITOR)


@dataclass(frozen=True, kw_only=True)
class CoatSpec:
    """One coat as specified. Thicknesses in nm for this coat alone, temperatures in °C, shares in %, times in hours.

    Of minimum and nominal, that is needed by which its rule judges; `declared` is the project's own rule.
    """

    order: int
    name: str
    product: str
    volume_solids_pct: Decimal | float
    rule: str
    minimum_nm: int | None = None
    nominal_nm: int | None = None
    maximum_nm: int | None = None
    colour: str = ""
    recoat_min_hours: Decimal | float | None = None
    recoat_max_hours: Decimal | float | None = None
    air_min_c: Decimal | float | None = None
    air_max_c: Decimal | float | None = None
    surface_min_c: Decimal | float | None = None
    surface_max_c: Decimal | float | None = None
    humidity_min_pct: Decimal | float | None = None
    humidity_max_pct: Decimal | float = 85
    margin_min_c: Decimal | float = 3
    pa2_level: int | None = None
    declared: DeclaredRule | None = None
    decides: bool = True
    data_sheet: DataSheet | None = None

    @property
    def limits(self) -> Limits:
        return Limits(self.minimum_nm, self.nominal_nm, self.maximum_nm)

    @property
    def needs(self) -> frozenset[str]:
        return needs_of(self.rule, self.declared)

    def columns(self) -> dict[str, Any]:
        """By the names of the coat's columns."""
        told = {field.name: getattr(self, field.name) for field in fields(self) if field.name != "declared"}
        rule = self.declared
        if rule is None:
            return told
        return told | {
            "declared_name": rule.name, "declared_document": rule.document, "declared": rule.stored(),
        }  # fmt: skip


@transaction.atomic
def open_project(
    by: Person,
    *,
    code: str,
    name: str,
    client: Organisation,
    contractor: Organisation | None = None,
    time_zone: str,
    unit: str = Unit.UM,
    shift_starts: str = "06:00",
    provisional_releases: bool = False,
) -> Project:
    """Open a project for a client. The time zone is an IANA name; shifts are written 06:00, 18:00."""
    require(by, Role.QUALITY_MANAGER, to="open a project")
    if faults := project_faults(code, client, contractor, time_zone, shift_starts, unit):
        raise Refused(faults)
    code = code.strip()
    project = Project(
        code=code, name=name.strip(), client=client, contractor=contractor, time_zone=time_zone, unit=unit,
        shift_starts=shifts_of(shift_starts)[0], provisional_releases=provisional_releases,
    )  # fmt: skip
    save_new(project, already=f"There is already a project {code}; choose another code.", field="code")
    journal.record("project.opened", project, by=by, project_id=project.pk, after=snapshot(project))
    return project


def project_faults(
    code: str,
    client: Organisation,
    contractor: Organisation | None,
    time_zone: str,
    shift_starts: str,
    unit: str,
    *,
    but: Project | None = None,
) -> list[Fault]:
    """What is wrong with the data of a project; `but` is the project that may have this code already."""
    faults = _party_faults(client, contractor) + _zone_faults(time_zone) + shifts_of(shift_starts)[1]
    if unit not in Unit.values:
        faults.append(Fault("Choose µm or mil.", "unit"))
    same = Project.objects.filter(code__iexact=code.strip())
    if (same.exclude(pk=but.pk) if but else same).exists():
        faults.append(Fault(f"There is already a project {code.strip()}; choose another code.", "code"))
    return faults


def goes_on(project: Project) -> None:
    """Raise Conflict where the project is closed: nothing new begins there."""
    if project.closed_at:
        raise Conflict(f"{project.code} was closed on {project.closed_at:%Y-%m-%d}; open it again first.")


def shifts_of(text: str) -> tuple[str, list[Fault]]:
    """The shift starts in order, as 06:00, 18:00, and what is wrong with how they were written."""
    starts = set()
    for part in filter(None, (part.strip() for part in re.split(r"[,;\s]+", text))):
        found = re.fullmatch(r"(\d{1,2})[:.](\d{2})", part)
        if not found or int(found[1]) > 23 or int(found[2]) > 59:
            return "", [Fault(f"“{part[:20]}” is not a time of day; write 06:00 or 06:00, 18:00.", "shift_starts")]
        starts.add(time(int(found[1]), int(found[2])))
    if not starts:
        return "", [Fault("Give the time at which the first shift begins, such as 06:00.", "shift_starts")]
    if len(starts) > MOST_SHIFTS:
        return "", [Fault(f"Give at most {MOST_SHIFTS} shifts a day.", "shift_starts")]
    return ", ".join(f"{start:%H:%M}" for start in sorted(starts)), []


def _zone_faults(time_zone: str) -> list[Fault]:
    if time_zone in available_timezones():
        return []
    return [Fault(f"“{time_zone[:60]}” is not a time zone; write it as Europe/Oslo or UTC.", "time_zone")]


def _party_faults(client: Organisation, contractor: Organisation | None) -> list[Fault]:
    faults = []
    if client.kind != Organisation.Kind.CLIENT:
        faults.append(Fault(f"{client} is not a client; choose the organisation the work is done for.", "client"))
    if contractor and contractor.kind != Organisation.Kind.CONTRACTOR:
        faults.append(Fault(f"{contractor} is not a painting contractor.", "contractor"))
    return faults


@transaction.atomic
def ask_qualifications(by: Person, *, project: Project, schemes: Iterable[Scheme]) -> None:
    """Choose, whole, under which schemes whoever measures on the project must hold a paper in date."""
    require(by, Role.QUALITY_MANAGER, to="choose the qualifications a project asks for")
    in_sight(by, project)
    held = list(Project.objects.select_for_update().get(pk=project.pk).schemes_asked.all())
    schemes = sorted(set(schemes), key=str)
    off = [scheme for scheme in schemes if scheme.retired_at and scheme not in held]
    if off:
        raise Refused(f"{off[0]} is off the company's list.", field="schemes")
    if schemes == held:
        return
    project.schemes_asked.set(schemes)
    journal.record(
        "project.qualifications_asked", project, by=by, project_id=project.pk,
        before={"schemes": [scheme.name for scheme in held]}, after={"schemes": [scheme.name for scheme in schemes]},
    )  # fmt: skip


@transaction.atomic
def add_member(by: Person, *, project: Project, person: Person, role: str) -> Membership:
    """Let a person take part in a project in a role they hold. A client's people see only their own projects."""
    require(by, Role.QUALITY_MANAGER, to="add members to a project")
    in_sight(by, project)
    if role not in TAKE_PART:
        raise Refused("Choose inspector, quality manager, client, contractor or auditor.", field="role")
    label = Role(role).label.lower()
    if person.waits:
        raise Refused(f"Nobody has confirmed yet that {person} is of {person.organisation}.", field="person")
    if not person.has_role(Role(role)):
        raise Refused(f"{person} does not hold the role of {label}; an administrator gives roles.", field="role")
    if kinds := KINDS_OF_ROLE.get(role):
        parties = project.parties.filter(kind__in=kinds, ended_at=None).select_related("organisation")
        if person.organisation_id not in {party.organisation_id for party in parties}:
            named = ", ".join(str(party) for party in parties) or "none"
            raise Refused(
                f"{person} belongs to {person.organisation}; the parties of {project.code} whose people take part as "
                f"{label}: {named}.",
                field="person",
            )
    already = f"{person} already takes part in {project.code}."
    if Membership.objects.filter(project=project, person=person, ended_at=None).exists():
        raise Refused(already, field="person")
    membership = Membership(project=project, person=person, organisation=person.organisation, role=role)
    save_new(membership, already=already, field="person")
    journal.record(
        "membership.begun", membership, by=by, project_id=project.pk,
        after={"person": person.email, "name": person.name, "role": role},
    )  # fmt: skip
    return membership


@transaction.atomic
def end_membership(by: Person, *, membership: Membership) -> Membership:
    """End a person's part in a project; what they recorded stays theirs."""
    require(by, Role.QUALITY_MANAGER, to="end a membership")
    in_sight(by, membership)
    now = timezone.now()
    if not Membership.objects.filter(pk=membership.pk, ended_at=None).update(ended_at=now):
        raise Conflict(f"{membership.person}'s part in {membership.project.code} has already ended.")
    membership.ended_at = now
    _journal_end(by, membership)
    return membership


@transaction.atomic
def end_memberships(by: Person, *, person: Person, at: datetime) -> None:
    """End all the parts of somebody whose access ends; nobody has to see the projects for that."""
    open_ones = Membership.objects.filter(person=person, ended_at=None)
    ended = list(open_ones.select_related("person").select_for_update(of=("self",)))
    open_ones.update(ended_at=at)
    for membership in ended:
        _journal_end(by, membership)


def _journal_end(by: Person, membership: Membership) -> None:
    journal.record(
        "membership.ended", membership, by=by, project_id=membership.project_id,
        before={"person": membership.person.email, "role": membership.role},
    )  # fmt: skip
    post.hold_back(by, person=membership.person, project=membership.project_id)


@transaction.atomic
def add_structure(by: Person, *, project: Project, name: str, description: str = "") -> Structure:
    require(by, Role.QUALITY_MANAGER, to="add a structure")
    in_sight(by, project)
    goes_on(project)
    name = name.strip()
    already = f"{project.code} already has a structure named {name}."
    if Structure.objects.filter(project=project, name__iexact=name).exists():
        raise Refused(already, field="name")
    structure = Structure(project=project, name=name, description=description.strip())
    save_new(structure, already=already, field="name")
    journal.record("structure.added", structure, by=by, project_id=project.pk, after=snapshot(structure))
    return structure


@transaction.atomic
def add_system(
    by: Person,
    *,
    project: Project,
    name: str,
    preparation_grade: str,
    profile_min_nm: int | None = None,
    profile_max_nm: int | None = None,
    salts_max_mg_m2: Decimal | None = None,
    salts_as: str = "",
    dust_max_quantity: int | None = None,
    dust_max_size: int | None = None,
    steelwork_grade: str = "",
    first_coat_within_h: Decimal | None = None,
    total_minimum_nm: int | None = None,
    total_nominal_nm: int | None = None,
    total_maximum_nm: int | None = None,
    coats: list[CoatSpec],
) -> CoatingSystem:
    """Store a coating system with all its coats, whole or not at all. Faults of a coat carry its number as the row.

    Totals, in nm, are those that the specification states of the whole film apart from its coats.
    """
    require(by, Role.QUALITY_MANAGER, to="specify a coating system")
    in_sight(by, project)
    goes_on(project)
    name = name.strip()
    already = f"{project.code} already has a system named {name}."
    system = CoatingSystem(
        project=project, name=name, preparation_grade=preparation_grade.strip(), profile_min_nm=profile_min_nm,
        profile_max_nm=profile_max_nm, salts_max_mg_m2=salts_max_mg_m2, salts_as=salts_as,
        dust_max_quantity=dust_max_quantity, dust_max_size=dust_max_size, steelwork_grade=steelwork_grade,
        first_coat_within_h=first_coat_within_h, total_minimum_nm=total_minimum_nm, total_nominal_nm=total_nominal_nm,
        total_maximum_nm=total_maximum_nm,
    )  # fmt: skip
    hold_sheets(by, [coat.data_sheet for coat in coats])
    rows = [Coat(system=system, **coat.columns()) for coat in coats]
    faults = system_faults(system, coats, rows)
    if CoatingSystem.objects.filter(project=project, name__iexact=name).exists():
        faults.insert(0, Fault(already, "name"))
    if faults:
        raise Refused(faults)
    save_new(system, already=already, field="name")
    for row in rows:
        row.save(force_insert=True)
    journal.record(
        "system.added", system, by=by, project_id=project.pk,
        after={**snapshot(system), "coats": [snapshot(row) for row in rows]},
    )  # fmt: skip
    return system


def hold_sheets(by: Person, sheets: Iterable[DataSheet | None]) -> None:
    """Keep data sheets from being removed until the transaction ends. Raises Conflict where one was just now."""
    wanted = {sheet.pk: sheet for sheet in sheets if sheet}
    held = DataSheet.objects.select_for_update(of=("self",)).filter(pk__in=wanted).order_by("pk")
    if gone := set(wanted) - {sheet.pk for sheet in held}:
        named = ", ".join(sorted(str(wanted[pk]) for pk in gone))
        raise Conflict(Fault(f"Somebody removed the data sheet {named} at the same moment.", "data_sheet"))
    in_sight(by, *wanted.values())


def system_faults(system: CoatingSystem, coats: Sequence[CoatSpec], rows: Sequence[Coat]) -> list[Fault]:
    """What is wrong with a system and its coats as they are to be stored, whether new or a revision."""
    faults = _coat_order_faults(coats)
    low, high = system.profile_min_nm, system.profile_max_nm
    if low is not None and high is not None and low > high:
        faults.append(Fault("The greatest profile is below the least; swap them.", "profile_max_nm"))
    if system.salts_max_mg_m2 is not None and system.salts_max_mg_m2 < 0:
        faults.append(Fault("The limit for soluble salts is zero or more.", "salts_max_mg_m2"))
    faults += _steel_faults(system)
    for row, spec in zip(rows, coats, strict=True):
        faults += coat_faults(spec) or _without_system(row_faults(row, row=spec.order))
    faults += [fault for spec in coats for fault in _sheet_faults(spec, system.project)] + _last_faults(coats)
    return faults or film_faults(system.totals, coats)


def _steel_faults(system: CoatingSystem) -> list[Fault]:
    """What is wrong with what is asked of the steel beside its profile."""
    faults = []
    if system.salts_as and system.salts_max_mg_m2 is None:
        faults.append(Fault("Give the limit that is expressed so, or leave this out.", "salts_as"))
    for name, least in (("dust_max_quantity", 1), ("dust_max_size", 0)):
        rating = getattr(system, name)
        if rating is not None and not least <= rating <= GREATEST_DUST:
            faults.append(Fault(f"ISO 8502-3 rates it {least} to {GREATEST_DUST}.", name))
    hours = system.first_coat_within_h
    if hours is not None and not 0 < hours <= MOST_HOURS_BARE:
        faults.append(Fault(f"Give more than 0 and at most {MOST_HOURS_BARE} hours.", "first_coat_within_h"))
    for name, known in (("salts_as", SaltsAs.values), ("steelwork_grade", SteelworkGrade.values)):
        if getattr(system, name) and getattr(system, name) not in known:
            faults.append(Fault(f"Give one of {', '.join(known)}, or nothing.", name))
    return faults


def _without_system(faults: list[Fault]) -> list[Fault]:
    """The system is stored together with its coats, so that it is not there yet is no fault."""
    return [fault for fault in faults if fault.field != "system"]


def _coat_order_faults(coats: Sequence[CoatSpec]) -> list[Fault]:
    if not coats:
        return [Fault("Give at least one coat.", "coats")]
    if len(coats) > MOST_COATS:
        return [Fault(f"Give at most {MOST_COATS} coats.", "coats")]
    if [coat.order for coat in coats] != list(range(1, len(coats) + 1)):
        return [Fault("Number the coats 1, 2, 3 … in the order they go on.", "coats")]
    return []


def coat_faults(coat: CoatSpec) -> list[Fault]:
    """What is inconsistent within one coat, with its number as the row."""
    found = []

    def fault(field: str, message: str) -> None:
        found.append(Fault(message, field, coat.order))

    found += [replace(wrong, row=coat.order) for wrong in order_faults(coat.limits, "{}_nm")]
    found += [replace(wrong, row=coat.order) for wrong in (coat.declared.faults() if coat.declared else ())]
    if (coat.rule == Coat.Rule.DECLARED) != (coat.declared is not None):
        fault("rule", "A declared rule goes with its declaration, and with no published rule.")
    if coat.rule == Coat.Rule.PA2 and coat.pa2_level not in range(1, 6):
        fault("pa2_level", "SSPC-PA 2 needs a restriction level, 1 to 5.")
    if coat.rule != Coat.Rule.PA2 and coat.pa2_level is not None:
        fault("pa2_level", "A restriction level belongs to SSPC-PA 2 alone; leave it empty for this rule.")
    for low, high, what in (
        ("recoat_min_hours", "recoat_max_hours", "The recoat window"),
        ("air_min_c", "air_max_c", "The air temperature range"),
        ("surface_min_c", "surface_max_c", "The surface temperature range"),
        ("humidity_min_pct", "humidity_max_pct", "The range of relative humidity"),
    ):
        least, most = getattr(coat, low), getattr(coat, high)
        if least is not None and most is not None and least >= most:
            fault(high, f"{what} ends before it begins; the upper figure is the greater one.")
    for field in ("recoat_min_hours", "recoat_max_hours", "margin_min_c", "humidity_min_pct"):
        value = getattr(coat, field)
        if value is not None and value < 0:
            fault(field, "Give zero or more.")
    if not 0 < coat.humidity_max_pct <= 100:
        fault("humidity_max_pct", "Relative humidity is more than 0 and at most 100 %.")
    return found


LIMIT_NAMES = {"minimum": "minimum", "nominal": "nominal thickness", "maximum": "maximum"}


def order_faults(limits: Limits, named: str) -> list[Fault]:
    """What is wrong with limits as they are stated, whichever are missing; `named` makes a field of a limit's name."""
    stated = [(name, limit) for name, limit in limits._asdict().items() if limit is not None]
    found = [Fault(f"The {LIMIT_NAMES[name]} is more than zero.", named.format(name)) for name, nm in stated if nm <= 0]
    for (low, least), (high, most) in pairwise(stated):
        if least > most:
            empty = "; leave it empty if none is specified" if high == "maximum" else ""
            words = f"The {LIMIT_NAMES[high]} is at least the {LIMIT_NAMES[low]}{empty}."
            found.append(Fault(words, named.format(high)))
    return found


def film_faults(totals: Limits, coats: Sequence[CoatSpec]) -> list[Fault]:
    """What is wrong with the film through the coats: a limit that a later coat's rule needs, totals out of order."""
    found = order_faults(totals, "total_{}_nm")
    for coat in coats:
        told = coat is coats[-1]
        for name in sorted(coat.needs):
            if told and getattr(totals, name) is not None:
                continue
            found += [
                Fault(_needed(name, below, coat), f"{name}_nm", below.order)
                for below in coats[: coat.order]
                if getattr(below.limits, name) is None
            ]
    judged = stated_or_summed(totals, summed(coat.limits for coat in coats))
    if not found:
        found += [
            replace(fault, message=f"{fault.message} What the system does not state is the sum of its coats.")
            for fault in order_faults(judged, "total_{}_nm")
        ]
    return list(dict.fromkeys(found))


def _needed(name: str, below: CoatSpec, coat: CoatSpec) -> str:
    rule = coat.declared.name if coat.declared else Coat.Rule(coat.rule).label
    if below is coat:
        return f"Give the {LIMIT_NAMES[name]}: {rule} judges by it."
    return (
        f"Give the {LIMIT_NAMES[name]} of this coat: coat {coat.order} is judged by {rule}, against the sum of all "
        "coats up to it."
    )


def _last_faults(coats: Sequence[CoatSpec]) -> list[Fault]:
    """The last coat decides: of the finished film there is no later result that would."""
    if coats and not coats[-1].decides:
        words = "The result after the last coat decides; a coat before it may be for control only."
        return [Fault(words, "for_control", coats[-1].order)]
    return []


def _sheet_faults(coat: CoatSpec, project: Project) -> list[Fault]:
    if coat.data_sheet and coat.data_sheet.project_id != project.pk:
        return [Fault(f"{coat.data_sheet} is a data sheet of another project.", "data_sheet", coat.order)]
    return []
