"""Storing a look at a coat: what was seen, how much of it, where, and whether whoever looked accepts it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from inspection.fieldwork.defects.models import DefectsRecord
from inspection.fieldwork.tested import AsTested
from inspection.foundation.refusals import Fault
from inspection.standards import InputFault
from inspection.standards.visual_defects import KINDS, extent_told

TOLD = ("kind", "place", "extent", "acceptable")


def _defects(record: DefectsRecord) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = record.observed.get("defects", [])
    return found


def _faults(record: DefectsRecord) -> Iterable[Fault]:
    for row, defect in enumerate(_defects(record), start=1):
        if defect.get("kind") not in KINDS:
            yield Fault(f"Name the defect: {', '.join(KINDS)}.", "defects", row)
            continue
        if not defect.get("place"):
            yield Fault("Say where it is, so that it is found again.", "defects", row)
        try:
            extent_told(defect["kind"], defect.get("extent", ""))
        except InputFault as wrong:
            yield from (Fault(fault.message, "defects", row) for fault in wrong.faults)


def _figures(record: DefectsRecord) -> None:
    record.defect_count = len(_defects(record))
    record.not_acceptable = record.result["not_acceptable"]


def _given(record: DefectsRecord) -> tuple[str, dict[str, Any]]:
    return "visual-defects", {"defects": [{name: row[name] for name in TOLD} for row in _defects(record)]}


DEFECTS = AsTested(
    model=DefectsRecord, title="visual inspection", given=_given, figures=_figures, faults=_faults
)  # fmt: skip
