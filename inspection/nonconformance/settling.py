"""When a failing measurement is answered: one rule over the facts of an area after a coat, in whatever order they came.

A failure is answered in one of three ways. Rework was done after it, and a measurement begun after the rework passes
and is sound. Or the measurement was shown to be wrong and corrected, and what stands instead does not fail. Or somebody
entitled accepted it as it is, with a reason. Measuring again with nothing done answers nothing (common practice, no
source).

After a coat that is measured for control only, nothing asks for an answer: a failing result stands as such, and the
film after a later coat decides (as IMO MSC.215(82) has it of each coat before the last; from memory).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Any, cast
from uuid import UUID

from inspection.fieldwork.models import Record, RecordQuerySet, ThicknessRecord
from inspection.nonconformance.models import Disposition, Remainder, RepairedPart
from inspection.projects.models import Project
from inspection.standing.models import Standing

Verdict = Record.Verdict
PlaceKey = tuple[UUID, UUID]


@dataclass(frozen=True)
class Measured:
    """One version of a measurement; `standing` is empty where none is stored."""

    pk: UUID
    verdict: str
    began: datetime
    ended: datetime
    standing: str
    replaces: UUID | None
    replaced: bool
    reason: str

    @property
    def holds(self) -> bool:
        return self.verdict == Verdict.PASS and self.standing == Standing.State.SOUND


@dataclass
class Repaired:
    """A repaired part in force: what is known of it, and what the rest of the area is without it, by measurement."""

    label: str
    part: Facts
    rest: dict[UUID, str] = field(default_factory=dict)

    def shown_after(self, record: Measured, done: datetime | None) -> Measured | None:
        """The newest measurement of the part, where it shows the failing one mended together with the rest."""
        newest = self.part.standing_now[-1:]
        if not done or self.rest.get(record.pk) != Verdict.PASS or record.standing != Standing.State.SOUND:
            return None
        return next((each for each in newest if each.holds and each.began >= done and not self.part.unanswered), None)


@dataclass
class Facts:
    """All that was measured on an area after a coat, replaced versions too, and what was done about its failures."""

    records: list[Measured] = field(default_factory=list)
    reworks: list[Disposition] = field(default_factory=list)
    accepted: set[UUID] = field(default_factory=set)
    # Whether the result after the coat decides, or is for control only.
    decides: bool = True
    repaired: Repaired | None = None

    @cached_property
    def by_id(self) -> dict[UUID, Measured]:
        return {record.pk: record for record in self.records}

    @cached_property
    def standing_now(self) -> list[Measured]:
        """The versions that stand, oldest first."""
        return [record for record in self.records if not record.replaced]

    def now(self, pk: UUID) -> Measured | None:
        """What stands of a measurement after its corrections; None where those moved it to another area or coat."""
        newer = {record.replaces: record for record in self.records if record.replaces}
        found = self.by_id.get(pk)
        while found and found.replaced:
            found = newer.get(found.pk)
        return found

    def failed_once(self, record: Measured) -> bool:
        before = self.by_id.get(record.replaces) if record.replaces else None
        return before is not None and (before.verdict == Verdict.FAIL or self.failed_once(before))

    def shown_after(self, record: Measured) -> Measured | None:
        """The newest measurement that shows it mended: begun after the last rework, done after the failure.

        Of the whole area; or of its repaired part, where the rest of the area passes without that.
        """
        done = self.reworked_since(record.ended)
        since = [each for each in self.standing_now if done and each.holds and each.began >= done]
        if not since and self.repaired:
            return self.repaired.shown_after(record, done)
        return since[-1] if since else None

    def reworked_since(self, at: datetime) -> datetime | None:
        """When the last rework was done, if that was after a moment."""
        done = [rework.done_at for rework in self.reworks if rework.done_at and rework.done_at >= at]
        return max(done) if done else None

    def is_answered(self, record: Measured) -> bool:
        if record.pk in self.accepted:
            return True
        if record.verdict == Verdict.FAIL:
            return self.shown_after(record) is not None
        # Corrected into too few readings, or what no rule reaches: it no longer fails, and shows nothing either.
        place = self.standing_now.index(record)
        return any(each.holds for each in self.standing_now[place + 1 :])

    @cached_property
    def unanswered(self) -> list[Measured]:
        """What stands, failed, and is not answered; oldest first. Of a coat for control only nothing asks for it."""
        if not self.decides:
            return []
        return [
            record
            for record in self.standing_now
            if (record.verdict == Verdict.FAIL or (record.verdict != Verdict.PASS and self.failed_once(record)))
            and not self.is_answered(record)
        ]

    def missing(self, project: Project) -> list[str]:
        """What has to happen before nothing is unanswered, a sentence each, with times in the project's zone."""
        failing = [record for record in self.unanswered if record.verdict == Verdict.FAIL]
        if not failing:
            return ["The measurement was corrected and is not complete; measure the area until it passes."] * bool(
                self.unanswered
            )
        last = max(record.ended for record in failing)
        done = self.reworked_since(last)
        if not done:
            when = _told(last, project)
            return [f"No rework is recorded that was done after the failing measurement, which ended at {when}."]
        measured, where = self.standing_now, ""
        if self.repaired and (rest := _rest(self.repaired, failing)):
            if rest != Verdict.PASS:
                return [f"The rest of the area does not pass without {self.repaired.label}; measure the whole area."]
            measured, where = self.repaired.part.standing_now, f" on {self.repaired.label}"
        since = [record for record in measured if record.began >= done]
        if since:
            found = since[-1]
            lacks = _lacks(found) if not found.holds else "passes, and the failure it had before is not answered"
            return [f"The measurement of {_told(found.began, project)}{where}, after the rework, {lacks}."]
        said = f"Nothing has been measured{where} since the rework, which was done at {_told(done, project)}"
        early = [record for record in measured if last < record.began < done]
        more = f"; what was measured at {_told(early[-1].began, project)} came before it" if early else ""
        return [f"{said}{more}."]


def _rest(repaired: Repaired, failing: Iterable[Measured]) -> str:
    return next((repaired.rest[record.pk] for record in failing if record.pk in repaired.rest), "")


def _lacks(record: Measured) -> str:
    if record.verdict == Verdict.FAIL:
        return "does not meet the rule"
    if record.verdict == Verdict.INCOMPLETE:
        return "is not complete"
    if record.verdict == Verdict.NOT_JUDGED:
        return "was not judged"
    return "is in question" if record.standing != Standing.State.PROVISIONAL else "waits for the check of its gauge"


def _told(at: datetime, project: Project) -> str:
    return f"{at.astimezone(project.zone):%Y-%m-%d %H:%M}"


def facts_of(places: Collection[PlaceKey]) -> dict[PlaceKey, Facts]:
    """The facts of each place, and of the repaired part of each, in four queries, however many there are."""
    parts = list(
        RepairedPart.objects.in_force()
        .filter(nonconformance__area__in={area for area, _ in places})
        .select_related("nonconformance", "part")
        .order_by("made_at", "pk")
    )
    of_part = {row.part_id: (row.nonconformance.area_id, row.nonconformance.coat_id) for row in parts}
    found = _facts_of({*places, *((part, coat) for part, (_, coat) in of_part.items() if coat)})
    rest: dict[UUID, dict[UUID, str]] = defaultdict(dict)
    rests = Remainder.objects.filter(repaired__in=parts).values_list("repaired", "record", "verdict")
    for pk, record, verdict in rests if parts else ():
        rest[pk][record] = verdict
    for row in parts:
        area, coat = of_part[row.part_id]
        if area and coat and (area, coat) in found:
            found[area, coat].repaired = Repaired(row.part.label, found[row.part_id, coat], rest[row.pk])
    return found


def _facts_of(places: Collection[PlaceKey]) -> dict[PlaceKey, Facts]:
    found: dict[PlaceKey, Facts] = {place: Facts() for place in places}
    of_places = {"area__in": list({area for area, _ in places}), "coat__in": list({coat for _, coat in places})}
    columns = (
        "area", "coat", "pk", "verdict", "taken_at", "ended_at", "standing__state", "replaces",
        "replaced_by", "replacement_reason",
        "coat__decides",
    )  # fmt: skip
    records = cast("RecordQuerySet", Record.objects.filter(**of_places, kind=ThicknessRecord.KIND))
    rows = records.that_count().newest_first().reverse().values_list(*columns)
    for area, coat, pk, verdict, began, ended, standing, replaces, newer, reason, decides in rows:
        if (area, coat) in found:
            found[area, coat].decides = decides
            found[area, coat].records.append(
                Measured(pk, verdict, began, ended, standing or "", replaces, newer is not None, reason)
            )
    for entry in in_force({f"nonconformance__{name}": ids for name, ids in of_places.items()}):
        raised = entry.nonconformance
        # Sanding dust out of a film says nothing of its thickness: only what was done about a measurement counts.
        if raised.area_id is None or raised.coat_id is None or raised.record_id is None:
            continue
        place = (raised.area_id, raised.coat_id)
        if place not in found:
            continue
        if entry.kind == Disposition.Kind.REWORK:
            found[place].reworks.append(entry)
        else:
            found[place].accepted.update(UUID(pk) for pk in entry.covers)
    return found


def in_force(which: dict[str, Any]) -> Iterable[Disposition]:
    """What was done or decided and nobody took back, oldest first. What was only said about it does nothing."""
    rows = Disposition.objects.filter(**which, withdrawn_by=None)
    if "kind" not in which:
        rows = rows.filter(kind__in=(Disposition.Kind.REWORK, Disposition.Kind.CONCESSION, Disposition.Kind.CLOSURE))
    return rows.select_related("nonconformance")


def by_place(rows: Iterable[Any]) -> dict[PlaceKey, list[Any]]:
    found: dict[PlaceKey, list[Any]] = defaultdict(list)
    for row in rows:
        found[row.area_id, row.coat_id].append(row)
    return found
