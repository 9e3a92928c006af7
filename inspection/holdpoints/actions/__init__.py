"""Every change of hold points, one function each."""

from inspection.holdpoints.actions.lost_ground import close_regained_ground, raise_for_lost_ground
from inspection.holdpoints.actions.planning import close_point, remove_point, rename_point, reopen_point
from inspection.holdpoints.actions.points import (
    follow_evidence,
    plan_points,
    present_again,
    put_doubts_right,
    refuse,
    release,
    release_many,
    take_refusal_back,
)

__all__ = [
    "close_point",
    "close_regained_ground",
    "follow_evidence",
    "plan_points",
    "present_again",
    "put_doubts_right",
    "raise_for_lost_ground",
    "refuse",
    "release",
    "release_many",
    "remove_point",
    "rename_point",
    "reopen_point",
    "take_refusal_back",
]
