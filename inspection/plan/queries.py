"""Reads of plans that are more than a line. They start from what the person may see."""

from __future__ import annotations

from django.db.models import QuerySet

from inspection.plan.models import PlanLine, PlanRevision
from inspection.projects.models import Project

WITH_LINE = ("requirements", "interventions__party__organisation")


def lines_of(revision: PlanRevision) -> QuerySet[PlanLine]:
    """The lines by number, with what they require and the letter of each party; three reads however many."""
    return revision.lines.order_by("order_key").prefetch_related(*WITH_LINE)


def lines_in_force(project: Project) -> QuerySet[PlanLine]:
    """The lines of the project's revision in force; none while there is none."""
    in_force = PlanLine.objects.filter(revision__plan__project=project, revision__state=PlanRevision.State.IN_FORCE)
    return in_force.select_related("revision").order_by("order_key").prefetch_related(*WITH_LINE)
