"""Raising a nonconformance by hand, from draft to issued: any party raises, a quality manager signs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db import transaction

from accounts.guessing import confirm_password
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, Fault, NotAllowed, Refused
from inspection.foundation.text import line
from inspection.instruments.models import Gauge
from inspection.nonconformance.actions.dispositions import add_entry, held
from inspection.nonconformance.actions.raising import add_raised, tell_moved, text_of
from inspection.nonconformance.letters import tell_of_issue
from inspection.nonconformance.models import Disposition, Nonconformance
from inspection.projects.models import Coat, InspectionArea, Party, Project
from inspection.projects.preconditions import in_sight
from inspection.projects.steps import coats_now
from inspection.works.lots.models import Lot
from inspection.works.paint.models import PaintBatch

Against, State = Nonconformance.Against, Nonconformance.State
RAISERS = (Role.INSPECTOR, Role.QUALITY_MANAGER, Role.CLIENT, Role.CONTRACTOR)
WORKERS = (Role.INSPECTOR, Role.QUALITY_MANAGER)
# By what it is against, the field that names it, and the sentence where that is left out.
NAMED_BY = {
    Against.AREA: ("area", "Choose the area that it is against."),
    Against.LOT: ("lot", "Choose the lot that it is against."),
    Against.BATCH: ("batch", "Choose the paint batch that it is against."),
    Against.INSTRUMENT: ("gauge", "Choose the instrument that it is against."),
    Against.QUALIFICATION: ("named", "Name the person and the qualification."),
    Against.PROCEDURE: ("named", "Name the procedure, with its revision."),
    Against.DOCUMENT: ("named", "Name the document, with its revision."),
}


@dataclass(frozen=True)
class About:
    """What it is against: the kind, and the one thing that the kind asks for; an area with its coat."""

    against: str = Against.AREA
    area: InspectionArea | None = None
    coat: Coat | None = None
    lot: Lot | None = None
    batch: PaintBatch | None = None
    gauge: Gauge | None = None
    named: str = ""


def raise_nonconformance(
    by: Person, *, area: InspectionArea, coat: Coat, title: str, description: str = ""
) -> Nonconformance:
    """Raise one against an area after a coat; an inspector's or a quality manager's holds its points back at once."""
    about = About(area=area, coat=coat)
    project = area.structure.project
    return raise_once(by, id=new_id(), project=project, about=about, title=title, description=description)[0]


@transaction.atomic
def raise_once(
    by: Person, *, id: UUID, project: Project, about: About, title: str, description: str = "",  # noqa: A002 - its own name for it, as in the API
    asked: Party | None = None, as_draft: bool = False,
) -> tuple[Nonconformance, bool]:  # fmt: skip
    """Raise one that somebody found; True when it is new. The same again under its id answers with the stored.

    What a client's or a contractor's people raise is a draft until a quality manager issues it; others' may be.
    """
    require(by, *RAISERS, to="raise a nonconformance")
    in_sight(by, project)
    columns: dict[str, Any] = {**_checked(by, project, about), "asked": _party(by, project, asked)}
    columns |= {"title": line(title, field="title", most=200), "description": text_of(description, "description")}
    if stored := Nonconformance.objects.filter(pk=id).first():
        same = all(getattr(stored, name) == value for name, value in columns.items())
        if same and stored.raised_by_id == by.pk and stored.project_id == project.pk:
            return stored, False
        raise Conflict(Fault("This id is used already. Nothing was changed: send it under another.", "id"))
    drafted = as_draft or not by.has_role(*WORKERS)
    state = State.DRAFT if drafted else State.OPEN
    raised = add_raised(by, id=id, project=project.pk, state=state, drafted=drafted, **columns)
    tell_of_issue(raised, by)
    return raised, True


def _checked(by: Person, project: Project, about: About) -> dict[str, object]:
    """The columns that say what it is against. Raises Refused for what is missing, or is of another kind or project."""
    if about.against not in Against.values:
        raise Refused(f"Give one of {', '.join(Against.values)}.", field="against")
    named = line(about.named, field="named", most=200, needed=False)
    given = {name: value for name, value in vars(about).items() if value and name != "against"}
    asks, missing = NAMED_BY.get(Against(about.against), ("", ""))
    allowed = {asks, *(("coat",) if asks == "area" else ())}
    faults = [
        Fault(f"It is against {Against(about.against).label.lower()}; leave this out.", name)
        for name in given
        if name not in allowed
    ]
    if asks and asks not in given:
        faults.append(Fault(missing, asks))
    if asks == "area" and about.coat is None:
        faults.append(Fault("Choose the coat after which the area does not conform.", "coat"))
    if faults:
        raise Refused(faults)
    columns: dict[str, object] = {**vars(about), "named": named}
    in_sight(by, *(thing for name, thing in given.items() if name != "named"))
    if about.area is not None and about.coat is not None:
        columns["coat"] = coats_now([about.area], about.coat).get(about.area.pk) or _foreign(about.area, about.coat)
    _refuse_elsewhere(project, about)
    return columns


def _refuse_elsewhere(project: Project, about: About) -> None:
    of = {
        "area": about.area and about.area.structure.project_id,
        "lot": about.lot and about.lot.project_id,
        "batch": about.batch and about.batch.project_id,
    }
    if faults := [Fault(f"It belongs to another project than {project.code}.", name)
                  for name, owner in of.items() if owner and owner != project.pk]:  # fmt: skip
        raise Refused(faults)


def _foreign(area: InspectionArea, coat: Coat) -> Coat:
    raise Refused(f"{coat.name} is not a coat of the system on area {area.label}.", field="coat")


def _party(by: Person, project: Project, asked: Party | None) -> Party | None:
    if asked is None:
        return None
    in_sight(by, asked)
    if asked.project_id != project.pk or asked.ended_at:
        raise Refused(f"Choose a party that takes part in {project.code} now.", field="asked")
    return asked


def issue_draft(by: Person, *, nonconformance: Nonconformance, password: str) -> Disposition:
    """Issue a draft with one's signature: from now on it is open, and one of an area holds its points back."""
    in_sight(by, nonconformance)
    require(by, Role.QUALITY_MANAGER, to="issue a nonconformance")
    confirm_password(
        by, password, to=f"issue {nonconformance}", so="it stays a draft", project_id=nonconformance.project_id
    )
    with transaction.atomic():
        locked = held(by, nonconformance)
        _refuse_unless_draft(locked)
        locked.state = State.OPEN
        locked.save(update_fields=["state"])
        issued = add_entry(
            by, locked, "nonconformance.issued", kind=Disposition.Kind.ISSUED, text="Looked at and issued"
        )
        tell_moved([locked])
        tell_of_issue(locked, by)
        return issued


@transaction.atomic
def drop_draft(by: Person, *, nonconformance: Nonconformance, reason: str) -> Disposition:
    """Close a draft that is not to be issued, with the reason: a quality manager, or whoever raised it."""
    locked = held(by, nonconformance)
    if not may_drop(by, locked):
        raise NotAllowed("Only a quality manager, or whoever raised it, may drop a draft.")
    reason = text_of(reason, "reason")
    if not reason:
        raise Refused("Say why it is not issued.", field="reason")
    _refuse_unless_draft(locked)
    return add_entry(by, locked, "nonconformance.dropped", kind=Disposition.Kind.CLOSURE, text=reason)


def may_drop(by: Person, row: Nonconformance) -> bool:
    """Not one that the platform drew up about the person's own entry: nobody in particular raised that."""
    ours = row.drafted and row.raised_by_id == by.pk
    return by.has_role(Role.QUALITY_MANAGER) or (by.has_role(*RAISERS) and ours)


def _refuse_unless_draft(locked: Nonconformance) -> None:
    if locked.state != State.DRAFT:
        raise Conflict(f"Only a draft is issued or dropped; this one is {locked.get_state_display().lower()}.")
