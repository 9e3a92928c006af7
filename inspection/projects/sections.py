"""The sections of a structure: added, renamed, moved with all below them, taken away while nothing hangs in them."""

from __future__ import annotations

import re

from django.db import transaction
from django.db.models import F, Value
from django.db.models.functions import Concat, Substr

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.text import line
from inspection.projects.actions import goes_on
from inspection.projects.corrections import reason_faults
from inspection.projects.models import LONGEST_PATH, SEPARATOR, Scope, Section, Structure
from inspection.projects.preconditions import in_sight, save_new, snapshot

LONGEST_NAME = 60
MOST_NAMED = 5


@transaction.atomic
def add_section(by: Person, *, structure: Structure, name: str, parent: Section | None = None) -> Section:
    """Add a section to a structure, at its top or below another section."""
    require(by, Role.QUALITY_MANAGER, to="add a section")
    in_sight(by, structure, *([parent] if parent else []))
    goes_on(structure.project)
    locked = _hold(structure)
    if parent:
        parent = _now(parent)
    if parent and parent.structure_id != locked.pk:
        raise Refused(f"{parent} is a section of another structure.", field="parent")
    section = Section(structure=locked, parent=parent, name=_name(name))
    section.path = _path(section)
    save_new(section, already=_taken(section), field="name")
    journal.record("section.added", section, by=by, project_id=locked.project_id, after=snapshot(section))
    return section


@transaction.atomic
def change_section(by: Person, *, section: Section, name: str, parent: Section | None, reason: str) -> Section:
    """Rename a section, or hang it elsewhere in its structure; all below it goes along.

    Raises Refused for a place within itself, a path that another section has, or one too long.
    """
    require(by, Role.QUALITY_MANAGER, to="change a section")
    in_sight(by, section, *([parent] if parent else []))
    goes_on(section.structure.project)
    structure = _hold(section.structure)
    section, parent = _now(section), _now(parent) if parent else None
    if faults := reason_faults(reason):
        raise Refused(faults)
    if parent and parent.structure_id != structure.pk:
        raise Refused(f"{parent} is a section of another structure; a section stays in its own.", field="parent")
    if parent and (parent.pk == section.pk or parent.path.startswith(section.path + SEPARATOR)):
        raise Refused(f"{parent.path} lies within {section.path} itself; choose a place outside it.", field="parent")
    before, former = snapshot(section), section.path
    section.name, section.parent = _name(name), parent
    section.path = _path(section, but=section)
    if snapshot(section) == before:
        raise Refused("Nothing differs from what is stored.")
    below = Section.objects.filter(structure=structure, path__startswith=former + SEPARATOR)
    _refuse_long(section, [*below.values_list("path", flat=True)], len(section.path) - len(former))
    section.save(update_fields=["name", "parent", "path"])
    below.update(path=Concat(Value(section.path), Substr(F("path"), len(former) + 1)))
    journal.record(
        "section.changed", section, by=by, project_id=structure.project_id, before=before, after=snapshot(section),
        reason=reason.strip(),
    )  # fmt: skip
    return section


@transaction.atomic
def remove_section(by: Person, *, section: Section, reason: str) -> None:
    """Take away a section that was entered by mistake: one in which nothing hangs."""
    require(by, Role.QUALITY_MANAGER, to="remove a section")
    in_sight(by, section)
    goes_on(section.structure.project)
    structure = _hold(section.structure)
    section = _now(section)
    if faults := reason_faults(reason):
        raise Refused(faults)
    held = [
        f"{many} {what}{'s' * (many > 1)}"
        for many, what in ((section.parts.count(), "section"), (section.areas.count(), "area"))
        if many
    ]
    if held:
        raise Conflict(f"{section} holds {' and '.join(held)}; move them elsewhere first.")
    if given := Scope.objects.filter(section=section, ended_at=None).select_related("party__organisation").first():
        raise Conflict(f"{section} is given to {given.party.organisation}; take it from them first.")
    journal.record(
        "section.removed", section, by=by, project_id=structure.project_id, before=snapshot(section),
        reason=reason.strip(),
    )  # fmt: skip
    section.delete()


def section_at(structure: Structure, path: str, *, field: str = "section") -> Section | None:
    """The section of that path, written as `Block 2 / Tank 3`; None for none. Raises Refused for one not there."""
    wanted = written(path)
    if not wanted:
        return None
    found = Section.objects.filter(structure=structure, path__iexact=wanted).first()
    if found:
        return found
    there = list(structure.sections.values_list("path", flat=True)[: MOST_NAMED + 1])
    known = ", ".join(f"“{each}”" for each in there[:MOST_NAMED]) + " …" * (len(there) > MOST_NAMED)
    told = f"it has {known}" if there else "it has no sections yet"
    raise Refused(f"{structure} has no section “{wanted[:60]}”; {told}.", field=field)


def written(path: str) -> str:
    """A path as it is kept: one blank on each side of the strokes between its names, and none too many elsewhere."""
    names = (" ".join(name.split()) for name in re.split(r"\s+/\s+", f" {path} "))
    return SEPARATOR.join(name for name in names if name)


def _name(name: str) -> str:
    name = line(" ".join(name.split()) if name.isprintable() else name, field="name", most=LONGEST_NAME)
    if SEPARATOR in name or name.startswith("/") or name.endswith("/"):
        raise Refused("A stroke between blanks parts the names of a path; write the name without it.", field="name")
    return name


def _path(section: Section, *, but: Section | None = None) -> str:
    path = f"{section.parent.path}{SEPARATOR}{section.name}" if section.parent else section.name
    _refuse_long(section, [path], 0)
    same = Section.objects.filter(structure=section.structure_id, path__iexact=path)
    if (same.exclude(pk=but.pk) if but else same).exists():
        raise Refused(_taken(section), field="name")
    return path


def _taken(section: Section) -> str:
    return f"{section.parent or section.structure} already has a section {section.name}."


def _refuse_long(section: Section, paths: list[str], more: int) -> None:
    longest = max((len(path) for path in paths), default=0) + more
    if longest > LONGEST_PATH:
        told = f"The names down to {section.name} have {longest} characters in all; at most {LONGEST_PATH} can be kept."
        raise Refused(Fault(told, "name"))


def _hold(structure: Structure) -> Structure:
    """The structure, held until the transaction ends, so that its paths change one after the other."""
    return Structure.objects.select_for_update(of=("self",)).select_related("project").get(pk=structure.pk)


def _now(section: Section) -> Section:
    found = Section.objects.select_related("structure").filter(pk=section.pk).first()
    if found is None:
        raise Conflict(f"Somebody removed {section} meanwhile.")
    return found
