"""What is said of notices before areas are changed, a party ends, or a project is closed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import Count, Q
from django.dispatch import receiver
from django.urls import reverse

from accounts.models import Person
from accounts.signals import Unfinished, unfinished
from inspection.notices.models import Notice
from inspection.projects.breakdown import Change
from inspection.projects.models import InspectionArea, Party, Project
from inspection.projects.signals import area_touched, party_touched

LEAVES = (Change.RETIRED, Change.DIVIDED, Change.MERGED)


@receiver(area_touched, dispatch_uid="notices")
def notified_there(sender: Any, by: Person, areas: Sequence[InspectionArea], change: Change, **sent: Any) -> list[str]:
    if change not in LEAVES:
        return []
    many = Notice.objects.standing().visible_to(by).filter(places__area__in=areas).distinct().count()
    instead = " Give notice again of what takes the place." if change != Change.RETIRED else ""
    return [f"{_notices(many)} there, which nobody comes to any more.{instead}"] if many else []


@receiver(party_touched, dispatch_uid="notices")
def notified_party(sender: Any, by: Person, party: Party, **sent: Any) -> list[Unfinished]:
    many = Notice.objects.standing().filter(Q(parties__party=party) | Q(party=party)).distinct().count()
    address = f"{reverse('notice_list')}?project={party.project_id}"
    return [Unfinished(f"{_notices(many)} that {'names' if many == 1 else 'name'} it", address)] if many else []


@receiver(unfinished, dispatch_uid="notices")
def left_standing(sender: Any, by: Person, person: Person | None, project: Any, **sent: Any) -> list[Unfinished]:
    if person is not None or project is None:
        return []
    standing = Count("notices", filter=Q(notices__state=Notice.State.STANDING))
    found = Project.objects.visible_to(by).filter(pk=project.pk).annotate(standing=standing)
    return [
        Unfinished(f"{_notices(each.standing)} in {each.code}", f"{reverse('notice_list')}?project={each.pk}")
        for each in found
        if each.standing
    ]


def _notices(many: int) -> str:
    return "1 notice of inspection stands" if many == 1 else f"{many} notices of inspection stand"
