"""Every change of hold points, one function each."""

from inspection.holdpoints.actions.applying import apply_plan
from inspection.holdpoints.actions.keeping import follow_evidence, put_doubts_right, sweep_run_out
from inspection.holdpoints.actions.lost_ground import close_regained_ground, raise_for_lost_ground
from inspection.holdpoints.actions.passing_over import follow_passing, put_passing_right
from inspection.holdpoints.actions.planning import close_point, remove_point, rename_point, reopen_point
from inspection.holdpoints.actions.points import (
    decide_many,
    note_attendance,
    plan_points,
    present_again,
    refuse,
    release,
    require_may_note_attendance,
    take_refusal_back,
    waive,
)
from inspection.holdpoints.actions.several import (
    close_points,
    give_letter,
    present_points,
    reopen_points,
    take_letter_back,
    take_presentation_back,
)

__all__ = [
    "apply_plan",
    "close_point",
    "close_points",
    "close_regained_ground",
    "decide_many",
    "follow_evidence",
    "follow_passing",
    "give_letter",
    "note_attendance",
    "plan_points",
    "present_again",
    "present_points",
    "put_doubts_right",
    "put_passing_right",
    "raise_for_lost_ground",
    "refuse",
    "release",
    "remove_point",
    "rename_point",
    "reopen_point",
    "reopen_points",
    "require_may_note_attendance",
    "sweep_run_out",
    "take_letter_back",
    "take_presentation_back",
    "take_refusal_back",
    "waive",
]
