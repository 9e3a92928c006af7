"""How the board shows a point: where it lies, what it stands on, what was last decided; a fixed number of reads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from inspection.fieldwork.models import ThicknessRecord
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.queries import last_decisions


@dataclass(frozen=True)
class BoardRow:
    point: HoldPoint
    record: ThicknessRecord | None
    decision: Decision | None


def board_rows(points: Sequence[Any]) -> list[BoardRow]:
    """Of points as `on_board` lists them."""
    records = (
        ThicknessRecord.objects.select_related("standing")
        .only("verdict", "mean_nm", "standing__state")
        .in_bulk([point.record_id for point in points if point.record_id])
    )
    decisions = last_decisions([point.pk for point in points])
    return [BoardRow(point, records.get(point.record_id), decisions.get(point.pk)) for point in points]
