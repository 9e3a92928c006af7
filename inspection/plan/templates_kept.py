"""Templates of plans kept by the company: made from the plan of a project or by hand, and applied to a project."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from django.db import transaction

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Refused
from inspection.plan.legend import legend_of
from inspection.plan.lines import Known, Letters, LineSent, known_to, sent_by, store
from inspection.plan.models import Meaning, Plan, PlanLine, PlanRevision
from inspection.plan.queries import lines_of
from inspection.projects.models import Party, Project
from inspection.projects.preconditions import in_sight, save_new


@dataclass
class Fitted:
    """A template's lines as they would stand in a project, and what is left out of them, a sentence each."""

    lines: list[LineSent] = field(default_factory=list)
    mapped: list[str] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)


@transaction.atomic
def begin_template(by: Person, *, name: str, of: PlanRevision | None = None) -> Plan:
    """Begin a template: empty, or with the lines of a project's revision, its letters those of the company."""
    require(by, Role.QUALITY_MANAGER, to="keep a template of plans")
    if of:
        in_sight(by, of)
    template = Plan(name=name.strip())
    save_new(template, already=f"There is already a template “{name.strip()}”; choose another name.", field="name")
    revision = PlanRevision.objects.create(plan=template, number=1)
    if of:
        store(revision, [_as_kept(line) for line in lines_of(of)])
    journal.record(
        "plan_template.begun", template, by=by, after={"name": template.name, "lines": revision.lines.count()}
    )
    return template


def _as_kept(line: PlanLine) -> LineSent:
    """The line with a letter for each kind of party: the strictest of that kind, as the company writes it."""
    company = {row.meaning: row.letter for row in reversed(legend_of(None))}
    meant: dict[str, str] = {}
    order = list(Meaning.values)
    for each in line.interventions.all():
        before = meant.get(each.party_kind)
        if before is None or order.index(each.meaning) < order.index(before):
            meant[each.party_kind] = each.meaning
    letters = [Letters(kind, _letter_for(meaning, company, "the company's legend")) for kind, meaning in meant.items()]
    return replace(sent_by(line), letters=letters)


def _letter_for(meaning: str, letters: dict[str, str], whose: str) -> str:
    if meaning not in letters:
        raise Refused(f"There is no letter that means {Meaning(meaning).name.lower()} in {whose}; add one first.")
    return letters[meaning]


def fitted(template: PlanRevision, project: Project) -> Fitted:
    """The template's lines fitted to the project's parties, coats and letters. Raises Refused for a missing letter."""
    known, found = known_to(project), Fitted()
    own = {row.meaning: row.letter for row in reversed(list(known.letters.values()))}
    lines = list(lines_of(template))
    _map_parties(lines, known, project, found)
    for line in lines:
        letters = [
            Letters(each.party_kind, _letter_for(each.meaning, own, "the project's legend"))
            for each in line.interventions.all()
            if each.party_kind in known.kinds
        ]
        if known.coats is not None and line.coat_order and line.coat_order not in known.coats:
            found.left_out.append(f"Line {line}: no coating system of the project has a coat {line.coat_order}.")
        elif not letters:
            found.left_out.append(f"Line {line}: none of its parties is in the project.")
        else:
            found.lines.append(replace(sent_by(line), letters=letters))
    return found


def _map_parties(lines: Iterable[PlanLine], known: Known, project: Project, found: Fitted) -> None:
    parties = list(Party.objects.in_force().filter(project=project).select_related("organisation"))
    asked = {each.party_kind for line in lines for each in line.interventions.all()}
    for kind in (kind for kind in Party.Kind if kind in asked):
        names = [str(party.organisation) for party in parties if party.kind == kind]
        if names:
            found.mapped.append(f"{kind.label}: {', '.join(names)}")
        else:
            found.left_out.append(f"{kind.label}: no such party in the project, so its letters are left out.")


@transaction.atomic
def apply_template(by: Person, *, project: Project, template: Plan, name: str = "") -> PlanRevision:
    """Begin the project's plan with the lines of the template's revision in force, fitted to the project."""
    in_sight(by, project)
    require(by, Role.QUALITY_MANAGER, to="begin a plan")
    Project.objects.select_for_update().get(pk=project.pk)
    source = template.revisions.filter(state=PlanRevision.State.IN_FORCE).first()
    if template.project_id or source is None:
        raise Refused("Choose a template that is in force.", field="template")
    if Plan.objects.filter(project=project).exists():
        raise Refused("The project has a plan already; begin a revision of it.", field="template")
    fit = fitted(source, project)
    if not fit.lines:
        raise Refused(f"Nothing of the template fits the project. {' '.join(fit.left_out)}", field="template")
    plan = Plan.objects.create(project=project, name=name.strip() or template.name, from_template=template)
    revision = PlanRevision.objects.create(plan=plan, number=1)
    stored = store(revision, fit.lines)
    of_template = {line.number: line for line in source.lines.all()}
    for line in stored.added:
        line.template_line = of_template[line.number]
        line.save()
    journal.record(
        "plan.begun", revision, by=by, project_id=project.pk,
        after={"template": template.name, "lines": len(stored.added), "left out": fit.left_out},
    )  # fmt: skip
    return revision
