"""What is open of an area that is about to be taken out of use."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.dispatch import receiver

from accounts.models import Person
from inspection.nonconformance.models import Nonconformance, RepairedPart
from inspection.projects.breakdown import Change
from inspection.projects.models import InspectionArea
from inspection.projects.signals import area_touched, coats_judged
from inspection.projects.steps import Judged


@receiver(area_touched, dispatch_uid="nonconformance")
def open_there(sender: Any, by: Person, areas: Sequence[InspectionArea], change: Change, **sent: Any) -> list[str]:
    if change in (Change.MEASURED, Change.RENAMED, Change.MOVED, Change.RESTORED, Change.REVISED):
        return []
    told = []
    many = Nonconformance.objects.filter(area__in=areas, state=Nonconformance.State.OPEN).count()
    if many:
        what = "1 nonconformance stays open" if many == 1 else f"{many} nonconformances stay open"
        words = "and is closed there, as any other: by a sound record after rework, or by a concession."
        told.append(f"{what} there, {words}")
    parts = RepairedPart.objects.in_force().filter(nonconformance__area__in=areas).select_related("part")
    told += [f"{part} stays in use; it is undone on the page of its nonconformance." for part in parts]
    return told


@receiver(coats_judged, dispatch_uid="nonconformance")
def found_not_to_conform(sender: Any, coats: Sequence[UUID], **sent: Any) -> Judged:
    """A coat with an open nonconformance was judged; it is closed by the limits by which it was raised."""
    still = Nonconformance.objects.filter(coat__in=coats, state=Nonconformance.State.OPEN)
    # What is measured on a repaired part is held to the limits by which its area was found not to conform.
    parts = RepairedPart.objects.in_force().filter(nonconformance__coat__in=coats)
    judged = {*still.values_list("area", "coat"), *parts.values_list("part", "nonconformance__coat")}
    return Judged(judged=judged)
