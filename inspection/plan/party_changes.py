"""What plans ask of a party whose part is about to end."""

from __future__ import annotations

from typing import Any

from django.dispatch import receiver

from accounts.signals import Unfinished
from inspection.plan.models import Intervention, PlanRevision
from inspection.projects.models import Party
from inspection.projects.signals import party_touched


@receiver(party_touched, dispatch_uid="plan")
def asked_of(sender: Any, party: Party, **sent: Any) -> list[Unfinished]:
    rows = Intervention.objects.filter(party=party, line__revision__state=PlanRevision.State.IN_FORCE)
    many = rows.values("line").distinct().count()
    lines = "1 line of a plan in force names" if many == 1 else f"{many} lines of plans in force name"
    return [Unfinished(f"{lines} it; revise the plan, so that somebody else stands there")] if many else []
