"""What hold points do when evidence changes, after standing has been brought up to date in the same transaction."""

from typing import Any

from django.dispatch import receiver

from inspection.holdpoints.actions import follow_evidence, follow_measurements
from inspection.instruments.signals import evidence_changed


@receiver(evidence_changed, dispatch_uid="holdpoints")
def follow(sender: Any, **sent: Any) -> None:
    by, records, gauges = sent.get("by"), list(sent.get("records", ())), list(sent.get("gauges", ()))
    since, climate, because = sent.get("since"), list(sent.get("climate", ())), sent.get("because", "")
    follow_evidence(by=by, records=records, gauges=gauges, since=since, climate=climate, because=because)
    # In this order, points before the project's numbers, as a recall holds them too.
    follow_measurements(by, records, gauges=gauges, since=since)
