"""Reads of plans that are more than a line. They start from what the person may see."""

from __future__ import annotations

from django.db.models import Prefetch, Q, QuerySet

from accounts.models import Person
from inspection.plan.models import Approval, Intervention, Meaning, Plan, PlanLine, PlanRevision
from inspection.projects.models import Party, Project

WITH_LINE = ("requirements", "interventions__party__organisation")


def lines_of(revision: PlanRevision, person: Person | None = None) -> QuerySet[PlanLine]:
    """The lines by number, with what they require and the letter of each party; three reads however many.

    For a painting contractor's person without the letters of other contractors.
    """
    lines = PlanLine.objects.filter(revision=revision).order_by("order_key")
    return lines.prefetch_related("requirements", letters_told_to(person))


def letters_told_to(person: Person | None) -> Prefetch:
    """The letters of lines that the person is told of, for prefetching."""
    return Prefetch("interventions", Intervention.objects.told_to(person).select_related("party__organisation"))


def lines_in_force(project: Project) -> QuerySet[PlanLine]:
    """The lines of the project's revision in force; none while there is none."""
    in_force = PlanLine.objects.filter(revision__plan__project=project, revision__state=PlanRevision.State.IN_FORCE)
    return in_force.select_related("revision").order_by("order_key").prefetch_related(*WITH_LINE)


def revisions_seen_by(person: Person) -> QuerySet[PlanRevision]:
    """Of the projects they see; of templates those of the company that keeps them, to whoever manages its plans."""
    seen: QuerySet[PlanRevision] = PlanRevision.objects.visible_to(person)
    return seen.select_related("plan__project", "plan__from_template", "brought_by")


def lines_seen_by(person: Person) -> QuerySet[PlanLine]:
    seen: QuerySet[PlanLine] = PlanLine.objects.visible_to(person)
    return seen.select_related("revision__plan__project").prefetch_related(*WITH_LINE)


def with_templates(lines: QuerySet[PlanLine]) -> QuerySet[PlanLine]:
    """The lines with those of their template, to tell in what they differ from them."""
    return lines.select_related("template_line").prefetch_related(
        "template_line__requirements", "template_line__interventions__party__organisation"
    )


def shown_of(plan: Plan, person: Person) -> PlanRevision | None:
    """The revision a plan's page shows first: that in force, else its draft, else the last that the person sees."""
    found = list(PlanRevision.objects.visible_to(person).filter(plan=plan).order_by("-number"))
    by_state = {revision.state: revision for revision in reversed(found)}
    first = (by_state[state] for state in (PlanRevision.State.IN_FORCE, PlanRevision.State.DRAFT) if state in by_state)
    return next(first, found[0] if found else None)


def templates() -> QuerySet[Plan]:
    return Plan.objects.filter(project=None).order_by("name").prefetch_related("revisions")


def approvals_of(revision: PlanRevision, digest: str) -> QuerySet[Approval]:
    """The approvals that count: not withdrawn, and given for the lines as they read now."""
    return revision.approvals.filter(withdrawn_at=None, digest=digest)


def may_be_asked(project: Project) -> QuerySet[Party]:
    """The parties of the project: once asked, their people can open the draft."""
    return Party.objects.in_force().filter(project=project).select_related("organisation")


def parties_by_default(revision: PlanRevision) -> list[Party]:
    """The parties that do more at some line than perform: without whom a plan is not agreed."""
    more = Intervention.objects.filter(line__revision=revision).exclude(meaning=Meaning.PERFORM)
    named = more.exclude(party=None).values("party")
    kinds = more.filter(party=None).values("party_kind")
    project = revision.plan.project
    return list(may_be_asked(project).filter(Q(pk__in=named) | Q(kind__in=kinds))) if project else []
