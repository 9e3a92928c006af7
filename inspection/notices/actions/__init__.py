"""Every change of notices, one function each."""

from inspection.notices.actions.giving import give_notice
from inspection.notices.actions.keeping import put_notified_right
from inspection.notices.actions.steps import (
    acknowledge,
    move_notice,
    record_outcome,
    restore_notice,
    take_acknowledgement_back,
    take_outcome_back,
    withdraw_notice,
)

__all__ = [
    "acknowledge",
    "give_notice",
    "move_notice",
    "put_notified_right",
    "record_outcome",
    "restore_notice",
    "take_acknowledgement_back",
    "take_outcome_back",
    "withdraw_notice",
]
