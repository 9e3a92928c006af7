"""Every change of nonconformances, one function each."""

from inspection.nonconformance.actions.dispositions import (
    answer,
    close_nonconformance,
    concede,
    drop_draft,
    issue_draft,
    record_rework,
    require_may_take_back,
    take_back,
)
from inspection.nonconformance.actions.raising import draft, drop_by_facts, follow_measurements, raise_nonconformance

__all__ = [
    "answer",
    "close_nonconformance",
    "concede",
    "draft",
    "drop_by_facts",
    "drop_draft",
    "follow_measurements",
    "issue_draft",
    "raise_nonconformance",
    "record_rework",
    "require_may_take_back",
    "take_back",
]
