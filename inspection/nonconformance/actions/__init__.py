"""Every change of nonconformances, one function each."""

from inspection.nonconformance.actions.by_hand import (
    RAISERS,
    About,
    drop_draft,
    issue_draft,
    may_drop,
    raise_nonconformance,
    raise_once,
)
from inspection.nonconformance.actions.dispositions import (
    answer,
    close_nonconformance,
    concede,
    record_rework,
    require_may_take_back,
    take_back,
)
from inspection.nonconformance.actions.extending import add_spot, take_spot_back
from inspection.nonconformance.actions.raising import draft, drop_by_facts, follow_measurements
from inspection.nonconformance.actions.repairing import judge_corrected, make_repaired_part, undo_part
from inspection.nonconformance.actions.rework_items import (
    drop_item,
    follow_records,
    look_at,
    mark_done,
    open_item,
    take_entry_back,
)
from inspection.nonconformance.actions.saying import say

__all__ = [
    "RAISERS",
    "About",
    "add_spot",
    "answer",
    "close_nonconformance",
    "concede",
    "draft",
    "drop_by_facts",
    "drop_draft",
    "drop_item",
    "follow_measurements",
    "follow_records",
    "issue_draft",
    "judge_corrected",
    "look_at",
    "make_repaired_part",
    "mark_done",
    "may_drop",
    "open_item",
    "raise_nonconformance",
    "raise_once",
    "record_rework",
    "require_may_take_back",
    "say",
    "take_back",
    "take_entry_back",
    "take_spot_back",
    "undo_part",
]
