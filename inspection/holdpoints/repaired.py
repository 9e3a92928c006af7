"""A failing measurement that holds with a repaired part: in SQL for boards of many points, and as evidence of a few.

The failing record stays failed. Its area stands on what its rule says of it without the spots within the part, together
with the newest measurement of the part; both have to pass, and both have to be sound.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import BooleanField, Exists, ExpressionWrapper, OuterRef, Q, QuerySet

from inspection.fieldwork.models import Latest, Record, ThicknessRecord
from inspection.nonconformance.models import Nonconformance, Remainder, RepairedPart
from inspection.projects.models import Project
from inspection.standing.models import Standing

Verdict, State = Record.Verdict, Standing.State
OPEN = Nonconformance.State.OPEN


def with_repaired(points: QuerySet[Any]) -> QuerySet[Any]:
    """Points that have their `record_id`, with whether a repaired part lets that record hold.

    `carried`: the rest of the area passes and the part's newest measurement passes and is reliable; `carried_anew`: the
    same, measured since the point was last refused or reworked; `carried_still`: nothing is known against either.
    """
    latest = "repaired__part__latest"
    rests = Remainder.objects.filter(record=OuterRef("record_id"), verdict=Verdict.PASS, repaired__undone_at=None)
    of_coat = {f"{latest}__coat": OuterRef("coat"), f"{latest}__kind": ThicknessRecord.KIND}
    standing, verdict = f"{latest}__record__standing__state", f"{latest}__record__verdict"
    sound = Q(**{standing: State.SOUND}) | Q(
        **{standing: State.PROVISIONAL, "repaired__nonconformance__project__provisional_releases": True}
    )
    good = rests.filter(sound, **of_coat, **{verdict: Verdict.PASS})
    still = rests.filter(
        **of_coat,
        **{f"{standing}__in": (State.SOUND, State.PROVISIONAL)},
        **{f"{verdict}__in": (Verdict.PASS, Verdict.INCOMPLETE, Verdict.NOT_JUDGED)},
    )
    anew = rests.filter(
        sound, **of_coat, **{verdict: Verdict.PASS, f"{latest}__record__taken_at__gte": OuterRef("fresh_from")}
    )
    found: QuerySet[Any] = points.annotate(carried=Exists(good), carried_anew=Exists(anew), carried_still=Exists(still))
    return found


def open_within() -> ExpressionWrapper:
    """Whether an open nonconformance holds the outer point back.

    One whose extent is not known, or without a repaired part, holds back all of its area after its coat. With a part
    it holds back the points of the part; and of the area, until the rest of it passes, or where the area is measured.
    """
    of_coat = Nonconformance.objects.filter(state=OPEN, coat=OuterRef("coat"))
    on_area = of_coat.filter(area=OuterRef("area"))
    stands = Remainder.objects.filter(
        repaired__nonconformance=OuterRef("pk"), repaired__undone_at=None, verdict=Verdict.PASS,
        record__standing__state=State.SOUND, record__latest__area=OuterRef("area"),
        record__latest__coat=OuterRef("coat"),
    )  # fmt: skip
    on_part = of_coat.filter(area__repair_of=OuterRef("area"), area__retired_at=None)
    within = RepairedPart.objects.in_force().filter(part=OuterRef("area"), nonconformance__coat=OuterRef("coat"))
    within = within.filter(nonconformance__state=OPEN)
    return ExpressionWrapper(
        Q(Exists(on_area.filter(~Exists(stands))))
        | Q(Exists(within))
        | (Q(measured=True) & (Q(Exists(on_area)) | Q(Exists(on_part)))),
        output_field=BooleanField(),
    )


@dataclass(frozen=True)
class Carried:
    """What a repaired part adds to the failing measurement of its area, as it is now."""

    repaired: RepairedPart
    remainder: Remainder
    record: ThicknessRecord | None

    @property
    def standing(self) -> Standing | None:
        return getattr(self.record, "standing", None)

    @property
    def rest_passes(self) -> bool:
        return self.remainder.verdict == Verdict.PASS

    def holds(self, project: Project) -> bool:
        """Whether the area stands on both."""
        state = self.standing.state if self.standing else ""
        reliable = state == State.SOUND or (state == State.PROVISIONAL and project.provisional_releases)
        return self.rest_passes and self.record is not None and self.record.verdict == Verdict.PASS and reliable

    @property
    def is_lost(self) -> bool:
        """Whether a release that rests on both is in doubt."""
        state = self.standing.state if self.standing else ""
        failed = self.record is None or self.record.verdict == Verdict.FAIL
        return not self.rest_passes or failed or state in ("", State.IN_QUESTION)

    @property
    def content(self) -> dict[str, Any]:
        record, standing = self.record, self.standing
        return {
            "part": {"id": self.repaired.pk, "area": self.repaired.part_id, "digest": self.repaired.digest},
            "rest": {"id": self.remainder.pk, "digest": self.remainder.digest, "verdict": self.remainder.verdict},
            "record": {"id": record.pk, "digest": record.digest, "verdict": record.verdict} if record else None,
            "standing": {"state": standing.state, "reasons": standing.reasons} if standing else None,
        }

    @property
    def told(self) -> str:
        """In a sentence, what of both there is."""
        rest = f"Without {self.repaired} the rest of the area: {self.remainder.get_verdict_display().lower()}."
        if self.record is None:
            return f"{rest} Nothing is measured on {self.repaired} yet."
        found = f"{rest} {self.repaired}: {self.record.get_verdict_display().lower()}"
        standing = f", {self.standing.get_state_display().lower()}" if self.standing else ""
        return f"{found}{standing}."


def carried_of(records: Collection[UUID]) -> dict[UUID, Carried]:
    """By failing record, what a repaired part in force adds to it: two queries, however many records."""
    rows = Remainder.objects.filter(record__in=records, repaired__undone_at=None)
    rows = rows.select_related("repaired__part", "repaired__nonconformance")
    found = {row.record_id: row for row in rows}
    if not found:
        return {}
    parts = {row.repaired.part_id for row in found.values()}
    stands = Latest.objects.filter(area__in=parts, kind=ThicknessRecord.KIND).values("record")
    of_parts = ThicknessRecord.objects.filter(pk__in=stands).select_related("standing", "project", "gauge")
    measured = {(row.area_id, row.coat_id): row for row in of_parts}
    return {
        pk: Carried(row.repaired, row, measured.get((row.repaired.part_id, row.repaired.nonconformance.coat_id)))  # type: ignore[arg-type]  # it is of a coat
        for pk, row in found.items()
    }


def open_for(points: Collection[Any], stands: Collection[UUID]) -> dict[UUID, list[Nonconformance]]:
    """By point, the open nonconformances that hold it back, by their numbers: `open_within` over rows, in two queries.

    `stands` are those of which the rest of the area passes without the repaired part.
    """
    areas, coats = {point.area_id for point in points}, {point.coat_id for point in points}
    of_part = dict(
        RepairedPart.objects.in_force()
        .filter(part__in=areas, nonconformance__state=OPEN)
        .values_list("part", "nonconformance")
    )
    at = Q(area__in=areas) | Q(area__repair_of__in=areas, area__retired_at=None) | Q(pk__in=list(of_part.values()))
    rows = Nonconformance.objects.filter(at, coat__in=coats, state=OPEN).select_related("area").order_by("number")
    return {
        point.pk: [row for row in rows if row.coat_id == point.coat_id and _holds_back(row, point, of_part, stands)]
        for point in points
    }


def _holds_back(row: Nonconformance, point: Any, of_part: dict[UUID, UUID], stands: Collection[UUID]) -> bool:
    if row.area_id == point.area_id:
        return point.measured or row.pk not in stands
    if of_part.get(point.area_id) == row.pk:
        return True
    return bool(point.measured and row.area and row.area.repair_of_id == point.area_id)
