"""What nonconformances do when evidence changes, inside the transaction of the action that changed it."""

from __future__ import annotations

from typing import Any

from inspection.nonconformance.actions import follow_measurements


def settle_nonconformances(sender: Any, **sent: Any) -> None:
    follow_measurements(
        sent.get("by"), list(sent.get("records", ())), gauges=list(sent.get("gauges", ())), since=sent.get("since")
    )
