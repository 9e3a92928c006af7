"""Where points are kept as lying on the board follows what rooms below change, inside the transaction of the change.

What changes with records comes by `evidence_changed`, see `receivers.py`.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django.dispatch import receiver

from inspection.holdpoints.actions.keeping import keep_places
from inspection.holdpoints.models import HoldPoint
from inspection.nonconformance.signals import nonconformances_moved
from inspection.projects.models import Project
from inspection.projects.signals import releases_corrected


@receiver(nonconformances_moved, dispatch_uid="holdpoints")
def follow_nonconformances(sender: Any, places: Iterable[tuple[UUID, UUID]], **sent: Any) -> None:
    areas, coats = zip(*places, strict=True)
    keep_places(HoldPoint.objects.filter(area__among=areas, coat__among=coats))


@receiver(releases_corrected, dispatch_uid="holdpoints")
def follow_the_project(sender: Any, project: Project, **sent: Any) -> None:
    keep_places(HoldPoint.objects.filter(project=project, state=HoldPoint.State.WAITING))
