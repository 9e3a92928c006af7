"""Every change of nonconformances, one function each."""

from inspection.nonconformance.actions.dispositions import (
    close_nonconformance,
    concede,
    record_rework,
    require_may_take_back,
    take_back,
)
from inspection.nonconformance.actions.raising import follow_measurements, raise_nonconformance

__all__ = [
    "close_nonconformance",
    "concede",
    "follow_measurements",
    "raise_nonconformance",
    "record_rework",
    "require_may_take_back",
    "take_back",
]
