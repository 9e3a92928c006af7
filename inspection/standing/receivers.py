"""What standing does when evidence changes, inside the transaction of the action that changed it."""

from typing import Any

from django.dispatch import receiver

from inspection.instruments.signals import evidence_changed
from inspection.standing.actions import refresh


@receiver(evidence_changed, dispatch_uid="standing")
def keep_standings_true(sender: Any, **sent: Any) -> None:
    refresh(
        by=sent.get("by"),
        records=sent.get("records", ()),
        gauges=sent.get("gauges", ()),
        since=sent.get("since"),
        because=sent.get("because", ""),
    )
