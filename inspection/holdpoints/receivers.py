"""What hold points do when evidence changes, inside the transaction of the action."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from inspection.holdpoints.actions import follow_evidence, follow_passing


def mark_points(sender: Any, **sent: Any) -> set[UUID]:
    follow_passing(sent.get("by"), list(sent.get("records", ())))
    return follow_evidence(
        by=sent.get("by"),
        records=list(sent.get("records", ())),
        gauges=list(sent.get("gauges", ())),
        since=sent.get("since"),
        climate=list(sent.get("climate", ())),
        areas=list(sent.get("areas", ())),
        because=sent.get("because", ""),
    )
