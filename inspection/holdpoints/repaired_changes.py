"""Points of a repaired part: those of its area after the coat that was found not to conform, planned on it as well."""

from __future__ import annotations

from typing import Any

from django.dispatch import receiver

from accounts.models import Person
from inspection.holdpoints.actions.keeping import follow_evidence
from inspection.holdpoints.area_changes import plan_again
from inspection.holdpoints.models import HoldPoint
from inspection.nonconformance.models import RepairedPart
from inspection.nonconformance.signals import repaired_part_moved


@receiver(repaired_part_moved, dispatch_uid="holdpoints")
def follow_repaired_part(sender: Any, by: Person, repaired: RepairedPart, because: str, **sent: Any) -> None:
    """Plan its points when it is made; those of an undone one were closed with it. Its area is looked at again."""
    raised = repaired.nonconformance
    if repaired.undone_at is None:
        points = HoldPoint.objects.filter(area=raised.area_id, coat=raised.coat_id).select_related("line", "coat")
        plan_again(by, list(points.exclude(state=HoldPoint.State.CLOSED)), [repaired.part], because)
    areas = [area for area in (raised.area_id, repaired.part_id) if area]
    follow_evidence(by=by, areas=areas, because=because)
