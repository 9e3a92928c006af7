"""Revisions of coating systems, issued from a day on; `revised_areas` has what then becomes of the areas."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.db import models, transaction
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.projects.actions import CoatSpec, goes_on, hold_sheets, system_faults
from inspection.projects.corrections import reason_faults
from inspection.projects.models import Coat, CoatingSystem, KeptCoat, SpecificationRevision
from inspection.projects.preconditions import in_sight, save_new, snapshot
from inspection.projects.revised_areas import apply

LONGEST_AHEAD = timedelta(days=5 * 366)
FIRST_DAY = date(2000, 1, 1)
# What a revision has of its own; every other column of a coat is as in the coat it carries on, unless it is changed.
OF_ITS_OWN = {"id", "system", "carries_on"}


@dataclass(frozen=True)
class RevisedCoat:
    """A coat of a revision, and the order of the former coat that is the same step; None for a new one."""

    spec: CoatSpec
    carries_on: int | None


@dataclass(frozen=True, kw_only=True)
class SystemSpec:
    """What is specified of a system apart from its coats. Thicknesses in nm; salts in mg/m²; time in hours."""

    preparation_grade: str
    profile_min_nm: int | None = None
    profile_max_nm: int | None = None
    salts_max_mg_m2: Any = None
    salts_as: str = ""
    dust_max_quantity: int | None = None
    dust_max_size: int | None = None
    steelwork_grade: str = ""
    first_coat_within_h: Any = None
    total_minimum_nm: int | None = None
    total_nominal_nm: int | None = None
    total_maximum_nm: int | None = None

    @classmethod
    def of(cls, system: CoatingSystem) -> SystemSpec:
        return cls(**{each.name: getattr(system, each.name) for each in fields(cls)})

    def columns(self) -> dict[str, Any]:
        return {each.name: getattr(self, each.name) for each in fields(self)}


def spec_of(coat: Coat) -> CoatSpec:
    """A stored coat as it would be specified again."""
    given = {each.name: getattr(coat, each.name) for each in fields(CoatSpec) if each.name != "declared"}
    return CoatSpec(**given, declared=coat.declaration)


def as_it_is(system: CoatingSystem) -> list[RevisedCoat]:
    """All coats of a system carried on unchanged: what a revision starts from."""
    return [RevisedCoat(spec_of(coat), coat.order) for coat in system.coats.select_related("data_sheet")]


@transaction.atomic
def issue_revision(
    by: Person,
    *,
    id: UUID,  # noqa: A002 - made by the sender, so that the same sent twice is one revision
    system: CoatingSystem,
    applies_from: date,
    reason: str,
    coats: Sequence[RevisedCoat],
    of_system: SystemSpec,
    specification_revision: SpecificationRevision | None = None,
    begun_stay: bool = False,
) -> tuple[CoatingSystem, bool]:
    """Issue the next revision of a system, applied at once unless the day is to come; True when it is new.

    The same sent again answers with what is stored; other content under a used id, and a revision of what another one
    follows already, raise Conflict. Faults of a coat carry its number as the row.
    """
    require(by, Role.QUALITY_MANAGER, to="revise a coating system")
    in_sight(by, system, *([specification_revision] if specification_revision else []))
    former = CoatingSystem.objects.select_for_update(of=("self",)).select_related("project").get(pk=system.pk)
    digest = journal.digest_of(
        _sent(former, applies_from, reason, coats, of_system, specification_revision, begun_stay)
    )
    stored = CoatingSystem.objects.filter(pk=id).first()
    if stored:
        if stored.sent_digest == digest:
            return stored, False
        raise Conflict(Fault("A system with this id is stored already, with other content. Nothing was changed.", "id"))
    goes_on(former.project)
    _still_to_revise(former)
    revision = CoatingSystem(
        id=id, project=former.project, name=former.name, revises=former, number=_next_number(former),
        applies_from=applies_from, why=reason.strip(), begun_stay=begun_stay, issued_by=by, issued_at=timezone.now(),
        sent_digest=digest, specification_revision=specification_revision, **of_system.columns(),
    )  # fmt: skip
    hold_sheets(by, [each.spec.data_sheet for each in coats])
    rows = _rows(revision, former, coats)
    faults = _date_faults(former, applies_from) + reason_faults(reason) + _carrying_faults(former, coats)
    faults += _specification_faults(former, specification_revision)
    faults += system_faults(revision, [each.spec for each in coats], rows)
    if faults:
        raise Refused(faults)
    if _is_the_same(former, revision, rows):
        raise Refused(f"Nothing differs from {former}; a revision changes something.")
    _store(former, revision, rows)
    journal.record(
        "system.revision_issued", revision, by=by, project_id=former.project_id, reason=reason.strip(),
        after={**snapshot(revision), "coats": [snapshot(row) for row in rows]},
    )  # fmt: skip
    if applies_from <= former.project.day_of(timezone.now()):
        apply(by, revision)
    return revision, True


def _sent(
    former: CoatingSystem, applies_from: date, reason: str, coats: Sequence[RevisedCoat], of_system: SystemSpec,
    specification: SpecificationRevision | None, begun_stay: bool,
) -> dict[str, Any]:  # fmt: skip
    def plain(spec: CoatSpec) -> dict[str, Any]:
        columns = spec.columns() | {"data_sheet": spec.data_sheet.pk if spec.data_sheet else None}
        return {name: _figure(value) for name, value in columns.items()}

    return {
        "revises": former.pk, "applies_from": applies_from, "reason": reason.strip(), "begun_stay": begun_stay,
        "system": {name: _figure(value) for name, value in of_system.columns().items()},
        "specification": specification.pk if specification else None,
        "coats": [{"carries_on": each.carries_on, **plain(each.spec)} for each in coats],
    }  # fmt: skip


def _figure(value: Any) -> Any:
    """One way to write a number that can be written in several."""
    return float(value) if hasattr(value, "quantize") or isinstance(value, int | float) else value


def _still_to_revise(former: CoatingSystem) -> None:
    if former.taken_back_at:
        raise Conflict(f"{former} was taken back; revise the system that is in force.")
    if former.number and not former.applied_at:
        raise Conflict(f"{former} applies only from {former.applies_from:%Y-%m-%d}; take it back, or wait for the day.")
    after = former.revisions.filter(taken_back_at=None).first()
    if after:
        raise Conflict(
            f"{after} follows {former} already, from {after.applies_from:%Y-%m-%d}; revise that one, or take it back."
        )


def _next_number(former: CoatingSystem) -> int:
    """No number is used twice, also not one that was taken back."""
    numbers = CoatingSystem.objects.filter(project=former.project_id, name=former.name)
    return int(numbers.aggregate(last=models.Max("number"))["last"] or 0) + 1


def _rows(revision: CoatingSystem, former: CoatingSystem, coats: Sequence[RevisedCoat]) -> list[Coat]:
    """A row for each coat: every column as in the coat it carries on, and over that what is specified now."""
    before = {coat.order: coat for coat in former.coats.all()}
    rows = []
    for each in coats:
        coat = before.get(each.carries_on) if each.carries_on else None
        copied = {
            column.name: getattr(coat, column.name)
            for column in (Coat._meta.concrete_fields if coat else ())
            if column.name not in OF_ITS_OWN
        }
        rows.append(Coat(system=revision, carries_on=coat, **(copied | each.spec.columns())))
    return rows


def _is_the_same(former: CoatingSystem, revision: CoatingSystem, rows: Sequence[Coat]) -> bool:
    """Whether the revision says of everything what the former says, and stands on the same specification."""
    if (
        SystemSpec.of(former) != SystemSpec.of(revision)
        or former.specification_revision_id != revision.specification_revision_id
    ):
        return False
    before = list(former.coats.order_by("order"))
    return len(before) == len(rows) and all(
        new.carries_on_id == old.pk and _columns(old) == _columns(new) for old, new in zip(before, rows, strict=True)
    )


def _columns(coat: Coat) -> dict[str, Any]:
    given = {column.name: getattr(coat, column.attname) for column in Coat._meta.concrete_fields}
    return {name: _figure(value) for name, value in given.items() if name not in OF_ITS_OWN}


def _store(former: CoatingSystem, revision: CoatingSystem, rows: Sequence[Coat]) -> None:
    already = f"Somebody revised {former} at the same moment; look at what they issued first."
    save_new(revision, already=already)
    for row in rows:
        row.save(force_insert=True)
        if row.carries_on:
            _copy_what_belongs_to(row.carries_on, row)


def _copy_what_belongs_to(former: Coat, coat: Coat) -> None:
    """Rows of this room that belong to a coat, such as its stripe coats, are the new coat's as well."""
    for relation in Coat._meta.related_objects:
        model = relation.related_model
        if model in (Coat, KeptCoat) or model._meta.app_label != Coat._meta.app_label:  # type: ignore[union-attr]  # a model, not a name
            continue
        for row in model._default_manager.filter(**{relation.field.name: former}):  # type: ignore[union-attr]  # the same
            columns = {each.name: getattr(row, each.name) for each in row._meta.concrete_fields if not each.primary_key}
            type(row)._default_manager.create(**(columns | {relation.field.name: coat}))


def _date_faults(former: CoatingSystem, applies_from: date) -> list[Fault]:
    today = former.project.day_of(timezone.now())
    if applies_from > today + LONGEST_AHEAD or applies_from < FIRST_DAY:
        return [Fault(f"{applies_from:%Y-%m-%d} is far from today; check the year.", "applies_from")]
    if former.applies_from and applies_from < former.applies_from:
        told = (
            f"{former} applies from {former.applies_from:%Y-%m-%d}; what revises it applies from then at the earliest."
        )
        return [Fault(told, "applies_from")]
    return []


def _carrying_faults(former: CoatingSystem, coats: Sequence[RevisedCoat]) -> list[Fault]:
    orders, faults, last = {coat.order for coat in former.coats.all()}, [], 0
    for each in coats:
        if each.carries_on is None:
            continue
        if each.carries_on not in orders:
            told = f"{former} has no coat {each.carries_on}; name one it has, or none for a new coat."
            faults.append(Fault(told, "carries_on", each.spec.order))
        elif each.carries_on <= last:
            told = "Each coat is carried on once, in the order they go on; name a later one, or none for a new coat."
            faults.append(Fault(told, "carries_on", each.spec.order))
        last = max(last, each.carries_on)
    return faults


def _specification_faults(former: CoatingSystem, revision: SpecificationRevision | None) -> list[Fault]:
    if revision is None:
        return []
    if revision.specification.project_id != former.project_id:
        return [Fault("That specification belongs to another project.", "specification_revision")]
    if revision.withdrawn_at:
        return [Fault(f"{revision} was taken back; choose one that stands.", "specification_revision")]
    return []
