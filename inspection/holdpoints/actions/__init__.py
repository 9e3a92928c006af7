"""Every change of hold points and nonconformances, one function each."""

from inspection.holdpoints.actions.dispositions import (
    close_nonconformance,
    concede,
    record_rework,
    require_may_take_back,
    take_back,
)
from inspection.holdpoints.actions.nonconformances import (
    close_regained_ground,
    follow_measurements,
    raise_for_lost_ground,
    raise_nonconformance,
)
from inspection.holdpoints.actions.planning import close_point, remove_point, rename_point, reopen_point
from inspection.holdpoints.actions.points import (
    follow_evidence,
    plan_points,
    present_again,
    put_doubts_right,
    refuse,
    release,
    take_refusal_back,
)

__all__ = [
    "close_nonconformance",
    "close_point",
    "close_regained_ground",
    "concede",
    "follow_evidence",
    "follow_measurements",
    "plan_points",
    "present_again",
    "put_doubts_right",
    "raise_for_lost_ground",
    "raise_nonconformance",
    "record_rework",
    "refuse",
    "release",
    "remove_point",
    "rename_point",
    "reopen_point",
    "require_may_take_back",
    "take_back",
    "take_refusal_back",
]
