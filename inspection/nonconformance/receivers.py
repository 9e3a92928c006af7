"""What nonconformances do when evidence changes, inside the transaction of the action that changed it."""

from __future__ import annotations

from typing import Any

from inspection.fieldwork.models import Record
from inspection.nonconformance.actions import follow_measurements, follow_records, judge_corrected


def judge_remainders(sender: Any, **sent: Any) -> None:
    """Before points are looked at: what a correction changes in the rest of an area of which a part is repaired."""
    judge_corrected(list(sent.get("records", ())))


def settle_nonconformances(sender: Any, **sent: Any) -> None:
    records = list(sent.get("records", ()))
    follow_measurements(sent.get("by"), records, gauges=list(sent.get("gauges", ())), since=sent.get("since"))
    # A record just stored says itself what it leaves to be put right; nothing else that changes standing does.
    if isinstance(sender, type) and issubclass(sender, Record):
        follow_records(sent.get("by"), records)
