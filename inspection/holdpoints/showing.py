"""How the board shows a point: where it lies, what it stands on, what was last decided; a fixed number of reads."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from inspection.fieldwork.models import ThicknessRecord
from inspection.holdpoints import ground
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.queries import last_decisions

# The mark of each place, by a state that the house's marks know.
MARKS = {
    ground.READY: "waiting",
    ground.DOUBT: "in_question",
    ground.UNREADY: "not ready",
    ground.REFUSED: "refused",
    ground.RELEASED: "released",
}


@dataclass(frozen=True)
class BoardRow:
    point: HoldPoint
    place: str
    words: str
    mark: str
    record: ThicknessRecord | None
    decision: Decision | None


def board_rows(points: Iterable[Any]) -> list[BoardRow]:
    points = list(points)
    records = (
        ThicknessRecord.objects.filter(pk__in=[point.record_id for point in points if point.record_id])
        .select_related("standing")
        .defer("inputs", "result", "note")
    )
    by_id = {record.pk: record for record in records}
    decisions = last_decisions(points)
    return [
        BoardRow(
            point,
            point.place,
            ground.PLACES[point.place],
            MARKS[point.place],
            by_id.get(point.record_id),
            decisions.get(point.pk),
        )
        for point in points
    ]
