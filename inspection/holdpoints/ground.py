"""What a hold point stands on, in SQL: the newest thickness record of its area after its coat, and how far it holds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, cast
from uuid import UUID

from django.db.models import Case, CharField, Exists, F, OuterRef, Q, QuerySet, Subquery, Value, When

from inspection.fieldwork.models import ClimateRecord, ThicknessRecord
from inspection.foundation.statement import Statement
from inspection.holdpoints.models import Decision, HoldPoint, Nonconformance
from inspection.standing.models import Standing

# Where a point lies on the board, in the order in which it wants somebody.
READY, DOUBT, UNREADY, REFUSED, RELEASED, CLOSED = "ready", "doubt", "unready", "refused", "released", "closed"
PLACES = {
    READY: "Ready to release",
    DOUBT: "Released, now in doubt",
    UNREADY: "Evidence not complete",
    REFUSED: "Refused",
    RELEASED: "Released",
    CLOSED: "Closed",
}

FRESH = Q(fresh_from=None) | Q(record_began__gte=F("fresh_from"))
HOLDS = Q(record_verdict="pass", record_standing=Standing.State.SOUND) & FRESH
# A released point does not fall into doubt because newer readings wait for their closing check.
IN_DOUBT = (
    Q(record_verdict="fail")
    | Q(record_standing=Standing.State.IN_QUESTION)
    | Q(record_id=None)
    | Q(climate_failed_since=True)
)


def newest_records() -> QuerySet[ThicknessRecord]:
    """Of the outer row's area and coat, newest first and without those that a correction replaced."""
    return cast("QuerySet[ThicknessRecord]", ThicknessRecord.objects.of_place(OuterRef("area"), OuterRef("coat")))


def with_climate_since(points: QuerySet[HoldPoint]) -> QuerySet[Any]:
    """The points with `climate_failed_since`: whether climate that failed arrived after the last release."""
    releases = Decision.objects.filter(point=OuterRef("pk"), outcome=Decision.Outcome.RELEASED).order_by("-number")
    failed = ClimateRecord.objects.current().filter(
        area=OuterRef("area"), coat=OuterRef("coat"), verdict="fail", received_at__gt=OuterRef("released_at")
    )
    released: QuerySet[Any] = points.annotate(released_at=Subquery(releases.values("at")[:1]))
    return cast("QuerySet[Any]", released.annotate(climate_failed_since=Exists(failed)))


def with_ground(points: QuerySet[HoldPoint]) -> QuerySet[Any]:
    """The points with `record_id`, `record_verdict`, `record_standing`, `has_open` nonconformances and `place`.

    For a few points, or a page of them; the board, which sorts and counts all of them, asks `on_board`.
    """
    newest = newest_records()
    grounded: QuerySet[Any] = (
        with_climate_since(points)
        .annotate(
            record_id=Subquery(newest.values("pk")[:1]),
            record_verdict=Subquery(newest.values("verdict")[:1]),
            record_standing=Subquery(newest.values("standing__state")[:1]),
            record_began=Subquery(newest.values("first_reading_at")[:1]),
            has_open=Exists(
                Nonconformance.objects.filter(
                    area=OuterRef("area"), coat=OuterRef("coat"), state=Nonconformance.State.OPEN
                )
            ),
        )
        .annotate(
            place=Case(
                When(state=HoldPoint.State.CLOSED, then=Value(CLOSED)),
                When(state=HoldPoint.State.REFUSED, then=Value(REFUSED)),
                When(IN_DOUBT, state=HoldPoint.State.RELEASED, then=Value(DOUBT)),
                When(state=HoldPoint.State.RELEASED, then=Value(RELEASED)),
                When(HOLDS, has_open=False, then=Value(READY)),
                default=Value(UNREADY),
                output_field=CharField(),
            )
        )
    )
    return grounded


def wrongly_marked() -> QuerySet[Any]:
    """Released points that are marked as doubted and are not, or the reverse."""
    released = with_ground(HoldPoint.objects.filter(state=HoldPoint.State.RELEASED))
    return released.filter((IN_DOUBT & Q(doubted_at=None)) | (~IN_DOUBT & Q(doubted_at__isnull=False)))


# The same places as above, by their number in PLACES, over `ground` (the points asked for, each with its record).
PLACED = """
    SELECT point.id, ground.record_id, CASE
        WHEN point.state = 'closed' THEN 5
        WHEN point.state = 'refused' THEN 3
        WHEN point.state = 'released' AND (
            record.id IS NULL OR record.verdict = 'fail' OR standing.state = 'in_question' OR EXISTS (
                SELECT 1 FROM fieldwork_climaterecord climate
                WHERE climate.area_id = point.area_id AND climate.coat_id = point.coat_id AND climate.verdict = 'fail'
                AND climate.received_at > (
                    SELECT max(decision.at) FROM holdpoints_decision decision
                    WHERE decision.point_id = point.id AND decision.outcome = 'released'
                ) AND NOT EXISTS (
                    SELECT 1 FROM fieldwork_climaterecord newer WHERE newer.replaces_id = climate.id
                )
            )
        ) THEN 1
        WHEN point.state = 'released' THEN 4
        WHEN record.verdict = 'pass' AND standing.state = 'sound'
        AND (point.fresh_from IS NULL OR record.first_reading_at >= point.fresh_from) AND NOT EXISTS (
            SELECT 1 FROM holdpoints_nonconformance nonconformance
            WHERE nonconformance.area_id = point.area_id AND nonconformance.coat_id = point.coat_id
            AND nonconformance.state = 'open'
        ) THEN 0
        ELSE 2 END AS place
    FROM set_ground ground JOIN holdpoints_holdpoint point ON point.id = ground.id
    LEFT JOIN fieldwork_thicknessrecord record ON record.id = ground.record_id
    LEFT JOIN standing_standing standing ON standing.record_id = ground.record_id
"""
BOARD = """
    SELECT 0 AS part, place, NULL AS id, NULL AS record_id, count(*) AS number FROM set_placed GROUP BY place
    UNION ALL
    SELECT * FROM (
        SELECT 1 AS part, placed.place, placed.id, placed.record_id, row_number() OVER (
            ORDER BY placed.place, project.code, area.code, coat."order", point.kind, point.id
        ) AS number
        FROM set_placed placed JOIN holdpoints_holdpoint point ON point.id = placed.id
        JOIN projects_project project ON project.id = point.project_id
        JOIN projects_inspectionarea area ON area.id = point.area_id
        JOIN projects_coat coat ON coat.id = point.coat_id
        WHERE %s = -1 OR placed.place = %s
        ORDER BY number LIMIT %s OFFSET %s
    ) AS page
"""


@dataclass(frozen=True)
class Placed:
    """A point of the board: where it lies and what it stands on."""

    point: UUID
    place: str
    record: UUID | None


def on_board(
    points: QuerySet[HoldPoint], *, place: str = "", first: int = 0, many: int = 50
) -> tuple[dict[str, int], list[Placed]]:
    """How many points lie in each place, and so many of one place or all, those first that want somebody.

    One statement, which looks up the newest record of each point once.
    """
    asked = Statement()
    newest = Subquery(newest_records().values("pk")[:1])
    asked.add("ground", [points.order_by().values_list("pk", newest)], columns="id, record_id")
    asked.add_sql("placed", PLACED)
    names = list(PLACES)
    wanted = names.index(place) if place else -1
    found = asked.rows(BOARD, [wanted, wanted, many, first])
    counts = {names[row[1]]: int(row[4]) for row in found if row[0] == 0}
    rows = sorted((row for row in found if row[0] == 1), key=lambda row: row[4])
    return counts, [Placed(_uuid(row[2]), names[row[1]], _uuid(row[3]) if row[3] else None) for row in rows]


def _uuid(value: Any) -> UUID:
    return UUID(str(value))
