"""How the board shows a point: where it lies, what it stands on, what was last decided; a fixed number of reads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from inspection.fieldwork.models import ThicknessRecord
from inspection.holdpoints import ground
from inspection.holdpoints.ground import Placed
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.queries import last_decisions

# The mark of each place, by a state that the house's marks know.
MARKS = {
    ground.READY: "waiting",
    ground.DOUBT: "in_question",
    ground.UNREADY: "not ready",
    ground.REFUSED: "refused",
    ground.RELEASED: "released",
    ground.CLOSED: "plain",
}


@dataclass(frozen=True)
class BoardRow:
    point: HoldPoint
    place: str
    words: str
    mark: str
    record: ThicknessRecord | None
    decision: Decision | None


def board_rows(placed: Sequence[Placed]) -> list[BoardRow]:
    points = (
        HoldPoint.objects.select_related("project", "area", "coat")
        .only(
            "title", "kind", "project__code", "project__unit", "project__time_zone", "area__code", "area__name",
            "area__told_by", "coat__name",
        )
        .in_bulk([row.point for row in placed])
    )  # fmt: skip
    records = (
        ThicknessRecord.objects.select_related("standing")
        .only("verdict", "mean_nm", "standing__state")
        .in_bulk([row.record for row in placed if row.record])
    )
    decisions = last_decisions(points)
    return [
        BoardRow(
            points[row.point],
            row.place,
            ground.PLACES[row.place],
            MARKS[row.place],
            records.get(row.record) if row.record else None,
            decisions.get(row.point),
        )
        for row in placed
    ]
