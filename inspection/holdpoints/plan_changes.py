"""What points do when a revision of the plan comes into force, and what is said of that beforehand."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.dispatch import receiver

from accounts.models import Person
from inspection.holdpoints.actions.applying import follow_revision, touched_by_revision
from inspection.holdpoints.actions.keeping import look_again_at_broken
from inspection.holdpoints.departures import departures_of
from inspection.holdpoints.models import HoldPoint
from inspection.plan.models import PlanRevision
from inspection.plan.signals import plan_departures, plan_in_force, plan_touched


@receiver(plan_touched, dispatch_uid="holdpoints")
def planned_by_it(sender: Any, by: Person, revision: PlanRevision, **sent: Any) -> list[str]:
    return touched_by_revision(revision)


@receiver(plan_departures, dispatch_uid="holdpoints")
def departed_from(sender: Any, by: Person, revision: PlanRevision, **sent: Any) -> dict[UUID, list[str]]:
    return departures_of(by, revision)


@receiver(plan_in_force, dispatch_uid="holdpoints")
def follow_the_plan(
    sender: Any, by: Person, revision: PlanRevision, former: PlanRevision | None, because: str, **sent: Any
) -> None:
    follow_revision(by, revision, former, because)
    look_again_at_broken(HoldPoint.objects.filter(project=revision.plan.project_id), by=by, because=because)
