"""What a point has to have before it can be released, and why it cannot: the rule, over its evidence as it is now.

`ground.py` says the same in SQL, for boards of many points.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any
from uuid import UUID

from django.db.models import Max
from django.utils import timezone

from accounts import journal
from inspection.fieldwork.judging import UNSPECIFIED
from inspection.fieldwork.kind import RecordKind, Reliance
from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.models import ClimateRecord, Latest, Record, ThicknessRecord
from inspection.fieldwork.verdicts_shown import CheckShown, checks_shown
from inspection.foundation.units import Unit
from inspection.holdpoints.chain.facts import facts_of
from inspection.holdpoints.chain.links import Chain, Link, not_met, not_recorded
from inspection.holdpoints.chain.since import Kept, breaking, but_climate_told, kept_at_release, since_release
from inspection.holdpoints.chain.told import chains_of, steps_of
from inspection.holdpoints.gauge_checks import CheckEvidence, checks_of, papers_of
from inspection.holdpoints.ground import required
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.repaired import Carried, carried_of, open_for
from inspection.nonconformance.models import Nonconformance, ReworkItem
from inspection.nonconformance.rework import open_on
from inspection.standing.models import Standing
from inspection.works.lots.withdrawn_paint import PaintWithdrawn, under, withdrawn_paint_at

SOUND = Standing.State.SOUND
# So many items of rework are named where some are open; the rest are counted.
MOST_NAMED = 3


@dataclass(frozen=True)
class Required:
    """A further record that the point requires, as it stands now; None where there is none."""

    kind: RecordKind
    record: Record | None
    standing: Standing | None
    # Where nothing is measured at the point, what it requires has to be begun since; None where any will do.
    since: datetime | None = None
    how_many: int = 1
    carrying: int = 1
    fresh_for: timedelta | None = None
    # The moment it is asked of; now where none is given.
    at: datetime | None = None

    @property
    def of_measurement(self) -> bool:
        """Whether it only says how many of the point's own measurements are wanted, and how fresh."""
        return self.kind.name == ThicknessRecord.KIND

    @property
    def found(self) -> str:
        return self.kind.sentence(self.record) if self.record else ""

    @property
    def faults(self) -> list[str]:
        """Why it does not carry a release, a sentence each."""
        record, title = self.record, self.kind.title
        if self.of_measurement:
            return self._age_faults(record, title) if record else []
        if record is None:
            return [f"No {self.kind.one} stands for this area."]
        if record.verdict != Record.Verdict.PASS:
            return [f"{title}: {record.get_verdict_display().lower()}."]
        stands = self.kind.reliance == Reliance.NONE
        if not stands and (self.standing is None or self.standing.state != Standing.State.SOUND):
            return [
                f"{title} is in question. {reason}" for reason in (self.standing.reasons if self.standing else [""])
            ]
        return self._age_faults(record, title)

    def _age_faults(self, record: Record, title: str) -> list[str]:
        zone = record.project.zone
        began = f"{record.taken_at.astimezone(zone):%Y-%m-%d %H:%M}"
        if self.since and record.taken_at < self.since:
            after = f"{self.since.astimezone(zone):%Y-%m-%d %H:%M}"
            return [f"{title} was recorded at {began}; the point was refused or reworked at {after}: it is due again."]
        if self.carrying < self.how_many:
            told = (
                "records of this area carry a release"
                if self.of_measurement
                else "records of this area pass and are sound"
            )
            return [f"{title}: {self.carrying} of {self.how_many} {told}."]
        if self.fresh_for and record.taken_at < (self.at or timezone.now()) - self.fresh_for:
            hours = int(self.fresh_for.total_seconds() // 3600)
            return [f"{title} was recorded at {began} and counts for {hours} h here: it is due again."]
        return []

    @property
    def is_lost(self) -> bool:
        """Whether a release that rests on it is in doubt; of the measurement the point itself says."""
        if self.of_measurement:
            return False
        in_question = self.standing is not None and self.standing.state == Standing.State.IN_QUESTION
        return self.record is None or self.record.verdict == Record.Verdict.FAIL or in_question

    @property
    def content(self) -> dict[str, Any]:
        record, standing = self.record, self.standing
        return {
            "kind": self.kind.name,
            "record": {"id": record.pk, "digest": record.digest, "verdict": record.verdict} if record else None,
            "standing": {"state": standing.state, "reasons": standing.reasons} if standing else None,
        }


@dataclass(frozen=True)
class Evidence:
    """All that a decision on a point rests on, as it is now."""

    point: HoldPoint
    record: ThicknessRecord | None
    standing: Standing | None
    climate: tuple[ClimateRecord, ...]
    verifications: tuple[CheckEvidence, ...]
    nonconformances: tuple[Nonconformance, ...]
    # When the point was last released; None where it never was.
    released_at: datetime | None = None
    # How the links of the chain stood then; None where it never was, or no chain was kept.
    kept: Kept = None
    required: tuple[Required, ...] = ()
    # How many measurements its line wants, and how fresh, where it says.
    wanted: Required | None = None
    # What is to be put right on the area and nobody has closed, whatever coat it is of.
    rework: tuple[ReworkItem, ...] = ()
    # What had to come before: each met, not met or not recorded.
    chain: Chain = ()
    # What a repaired part adds to a failing measurement of its area.
    carried: Carried | None = None
    # What lies in the film of batches that were withdrawn: of the point's coat and of those below it.
    paint: tuple[PaintWithdrawn, ...] = ()

    @property
    def kind(self) -> RecordKind:
        """Of the measurement."""
        return BY_NAME[ThicknessRecord.KIND]

    @property
    def verdict(self) -> str:
        return self.record.verdict if self.record else ""

    @property
    def reasons(self) -> list[str]:
        return list(self.standing.reasons) if self.standing else []

    @cached_property
    def checks(self) -> list[CheckShown]:
        if self.record is None:
            return []
        return checks_shown(self.record.result, Unit(self.point.project.unit))

    @cached_property
    def why_not(self) -> list[str]:
        """Why the point cannot be released, a sentence each; empty when it can."""
        return [
            *self.measurement_faults, *(fault for each in self.required for fault in each.faults), *self.still_open,
        ]  # fmt: skip

    @property
    def measurement_faults(self) -> list[str]:
        """Why the measurement does not carry a release, a sentence each."""
        if not self.point.measured:
            return []
        wanted = self.wanted.faults if self.wanted else []
        if self.for_control:
            return [
                *([] if self.record else _record_faults(None)),
                *_freshness_faults(self.point, self.record),
                *wanted,
            ]
        part = self.carried
        if part is None:
            failed = _record_faults(self.record)
        else:
            failed = [] if part.holds(self.point.project) else [f"The thickness does not meet the rule. {part.told}"]
        return [
            *failed, *_standing_faults(self.point, self.record, self.standing),
            *_freshness_faults(self.point, part.record if part and part.record else self.record), *wanted,
        ]  # fmt: skip

    @property
    def stands_with_part(self) -> bool:
        """Whether a failing measurement holds now, together with the repaired part of its area."""
        relied_on = not _standing_faults(self.point, self.record, self.standing)
        return relied_on and self.carried is not None and self.carried.holds(self.point.project)

    @property
    def rests_on_records(self) -> bool:
        """Whether records make it ready; else somebody on site has to present it."""
        return self.point.measured or bool(self.required)

    @property
    def for_control(self) -> bool:
        """Whether the coat is measured for control only: that it was measured counts, not what was found."""
        return self.point.coat is not None and not self.point.coat.decides

    @cached_property
    def failed_climate(self) -> list[ClimateRecord]:
        """The climate records that failed: a release must say why the coat is accepted all the same."""
        return [row for row in self.climate if row.verdict == "fail"]

    @cached_property
    def climate_since(self) -> list[ClimateRecord]:
        """Climate that failed and arrived after the release, so that whoever released has not accepted it."""
        if self.point.state != HoldPoint.State.RELEASED or self.released_at is None:
            return []
        return [row for row in self.failed_climate if row.received_at > self.released_at]

    @cached_property
    def paint_since(self) -> list[PaintWithdrawn]:
        """Paint of withdrawn batches that whoever released could not know of, and so has not accepted."""
        if self.point.state != HoldPoint.State.RELEASED or self.released_at is None:
            return []
        return [each for each in self.paint if each.known_from > self.released_at]

    @property
    def came_since(self) -> bool:
        """Whether something has come up since the release that a further release may accept."""
        return bool(self.climate_since or self.paint_since or self.links_since)

    @cached_property
    def links_since(self) -> list[Link]:
        """The links not met that whoever released has not accepted, for they were met or not recorded then."""
        if self.point.state != HoldPoint.State.RELEASED:
            return []
        return since_release(self.links_not_met, self.kept)

    @property
    def climate_verdict(self) -> str:
        """`fail` as soon as one record failed, for nothing here says which of them the coat was applied in."""
        if not self.climate:
            return "not recorded"
        return "fail" if self.failed_climate else "pass"

    @property
    def to_accept(self) -> list[str]:
        """A sentence for each failed climate record and each other link of the chain that is not met, with what was
        not met, for the rework that is still open, and for paint of withdrawn batches."""
        return [
            *(_climate_told(row, self.point) for row in self.failed_climate),
            *(link.told for link in self.links_not_met), *self._rework_told(),
            *(each.sentence for each in self.paint),
        ]  # fmt: skip

    @cached_property
    def links_not_met(self) -> list[Link]:
        """The links of the chain that are not met, but for a failed climate record that is told as one already."""
        return but_climate_told(not_met(self.chain), self.failed_climate)

    @cached_property
    def links_not_recorded(self) -> list[Link]:
        return not_recorded(self.chain)

    @property
    def against(self) -> str:
        """What a release has to accept, in short; empty where nothing."""
        if self.failed_climate:
            return "a climate record failed"
        if self.links_not_met:
            return "a link of its chain is not met"
        if self.rework:
            return "rework on its area is still open"
        return "paint in the film is of a withdrawn batch" if self.paint else ""

    @property
    def asks_why(self) -> str:
        """What a release is asked that has something to accept; empty where nothing."""
        what = self.against
        return f"{what[0].upper()}{what[1:]}; say why the coat is accepted." if what else ""

    def _rework_told(self) -> list[str]:
        if not self.rework:
            return []
        many = "1 item of rework is" if len(self.rework) == 1 else f"{len(self.rework)} items of rework are"
        named = "; ".join(str(item) for item in self.rework[:MOST_NAMED])
        return [f"{many} not closed on this area: {named}{'; …' if len(self.rework) > MOST_NAMED else '.'}"]

    @property
    def releasable(self) -> bool:
        return not self.why_not

    @property
    def hangs_on(self) -> str:
        """What a release would still hang on, as a sentence; empty where on nothing."""
        if (
            self.for_control
            or not self.releasable
            or self.standing is None
            or self.standing.state != Standing.State.PROVISIONAL
        ):
            return ""
        return (
            "The check of the gauge after work is still to come. A release given now falls into doubt if that check "
            "fails or is not made in this shift."
        )

    @property
    def in_doubt(self) -> bool:
        """Whether what the point was released on no longer holds."""
        if self.climate_since or self.paint_since or breaking(self.links_since):
            return True
        if any(each.is_lost for each in self.required):
            return True
        if not self.point.measured:
            return False
        if self.record is None:
            return True
        if self.for_control:
            return False
        standing = self.standing.state if self.standing else ""
        failed = self.record.verdict == ThicknessRecord.Verdict.FAIL and (self.carried is None or self.carried.is_lost)
        return failed or standing == Standing.State.IN_QUESTION

    @property
    def further_records(self) -> list[UUID]:
        """What it rests on beside its measurement, each once: the records that are required, and those of its chain."""
        required = [each.record.pk for each in self.required if each.record]
        if self.carried and self.carried.record:
            required.append(self.carried.record.pk)
        in_chain = [link.id for link in self.chain if link.id and link.kind in BY_NAME]
        its_own = self.record.pk if self.record else None
        return [pk for pk in dict.fromkeys((*required, *in_chain)) if pk != its_own]

    @property
    def climate_ids(self) -> list[UUID]:
        return [row.pk for row in self.climate]

    @property
    def verification_ids(self) -> list[UUID]:
        return [check.verification.pk for check in self.verifications]

    @property
    def nonconformance_ids(self) -> list[UUID]:
        return [row.pk for row in self.nonconformances]

    @cached_property
    def content(self) -> dict[str, Any]:
        """The evidence as a decision keeps it."""
        record, standing = self.record, self.standing
        return {
            "record": {"id": record.pk, "digest": record.digest, "verdict": record.verdict} if record else None,
            "standing": {
                "state": standing.state, "reasons": standing.reasons,
                "opening": standing.opening_id, "closing": standing.closing_id,
            } if standing else None,
            "climate": [{"id": row.pk, "digest": row.digest, "verdict": row.verdict} for row in self.climate],
            "certificates": sorted({str(paper) for check in self.verifications for paper, _ in check.papers}),
            "open_nonconformances": [row.number for row in self.nonconformances],
            **({"measurements": [self.wanted.carrying, self.wanted.how_many]} if self.wanted else {}),
            **({"repaired": self.carried.content} if self.carried else {}),
            **({"required": [each.content for each in self.required]} if self.required else {}),
            "chain": [link.content for link in self.chain],
            **({"open_rework": sorted(str(item.pk) for item in self.rework)} if self.rework else {}),
            **({"withdrawn_paint": [[each.batch.pk, each.lot.pk] for each in self.paint]} if self.paint else {}),
        }  # fmt: skip

    @cached_property
    def digest(self) -> str:
        return journal.digest_of(self.content)

    @property
    def still_open(self) -> list[str]:
        return [f"Nonconformance {row} is still open." for row in self.nonconformances]


def _record_faults(record: ThicknessRecord | None) -> list[str]:
    if record is None:
        return ["No thickness has been measured on this area after this coat."]
    if record.verdict == ThicknessRecord.Verdict.FAIL:
        return ["The thickness does not meet the rule."]
    if record.verdict == ThicknessRecord.Verdict.INCOMPLETE:
        return [f"The measurement is not complete: {record.reading_count} of {record.readings_wanted} readings."]
    if record.verdict == ThicknessRecord.Verdict.NOT_JUDGED and UNSPECIFIED in record.inputs:
        return list(record.result["notes"])
    if record.verdict == ThicknessRecord.Verdict.NOT_JUDGED:
        return ["The rule of the coat does not reach this thickness, so the measurement was not judged."]
    return []


def _standing_faults(point: HoldPoint, record: ThicknessRecord | None, standing: Standing | None) -> list[str]:
    if record is None or (standing and standing.state == Standing.State.SOUND):
        return []
    if standing and standing.state == Standing.State.PROVISIONAL and point.project.provisional_releases:
        return []
    if standing and standing.state == Standing.State.PROVISIONAL:
        return [f"The measurement is provisional: wait for the check of the gauge after work. {standing.reasons[0]}"]
    return [f"The measurement is in question. {reason}" for reason in (standing.reasons if standing else [""])]


def _freshness_faults(point: HoldPoint, record: ThicknessRecord | None) -> list[str]:
    since = point.fresh_from
    if record is None or since is None or record.taken_at >= since:
        return []
    zone = point.project.zone
    measured, after = (f"{at.astimezone(zone):%Y-%m-%d %H:%M}" for at in (record.taken_at, since))
    told = f"The area was measured at {measured}; the point was refused or reworked at {after}"
    return [f"{told}, and a release needs a measurement begun after that."]


def _climate_told(row: ClimateRecord, point: HoldPoint) -> str:
    """The record in a line: when, what was found, and what of it was not met."""
    margin = f"{row.margin_c:.1f}".replace("-", "−")
    taken = f"{row.taken_at.astimezone(point.project.zone):%Y-%m-%d %H:%M}"
    at = f" at station {row.station.code}" if row.station else ""
    told = f"{taken}{at}: humidity {row.found_humidity_pct:.0f} %, steel {margin} °C from the dew point."
    unmet = " ".join(check["sentence"] for check in row.result.get("checks", ()) if check["passed"] is False)
    return f"{told} Not met: {unmet}" if unmet else told


def evidence_of(point: HoldPoint) -> Evidence:
    """The evidence under the point as it is now, in a number of queries that does not grow with it."""
    return evidence_of_many([point])[point.pk]


def evidence_of_many(points: Sequence[HoldPoint]) -> dict[UUID, Evidence]:
    """The evidence under each of the points, by point, in as many queries as under one of them."""
    areas, coats = {point.area_id for point in points}, {point.coat_id for point in points}
    stands = Latest.objects.filter(area__in=areas, coat__in=coats, kind=ThicknessRecord.KIND)
    rows = ThicknessRecord.objects.filter(pk__in=stands.values("record")).select_related(
        "gauge", "taken_by", "standing__opening__taken_by", "standing__closing__taken_by", "project"
    )
    records = {(row.area_id, row.coat_id): row for row in rows}
    failing = [row.pk for row in records.values() if row.verdict == Record.Verdict.FAIL]
    carried = carried_of(failing) if failing else {}
    sound = [row.pk for row in records.values() if (told := getattr(row, "standing", None)) and told.state == SOUND]
    resting = {carried[pk].repaired.nonconformance_id for pk in sound if pk in carried and carried[pk].rest_passes}
    nonconformances = open_for(points, resting)
    releases = Decision.objects.filter(point__in=points, outcome=Decision.Outcome.RELEASED).order_by()
    released = dict(releases.values_list("point").annotate(last=Max("at")))
    further, papers, kept = _required(points), papers_of(list(records.values())), kept_at_release(points)
    rework, paint = open_on(areas), withdrawn_paint_at(areas)
    steps = steps_of(points, {pk: frozenset(each.kind.name for each in rows) for pk, rows in further.items()})
    facts = facts_of(steps, timezone.now())
    found = {}
    for point, chain in zip(points, chains_of(steps, facts), strict=True):
        place: Any = (point.area_id, point.coat_id)
        record = records.get(place)
        standing = getattr(record, "standing", None)
        found[point.pk] = Evidence(
            point=point,
            record=record,
            standing=standing,
            climate=tuple(facts.climate.get(place, ())) if point.coat_id else (),
            verifications=checks_of(standing, papers) if standing else (),
            nonconformances=tuple(nonconformances[point.pk]),
            required=tuple(each for each in further.get(point.pk, ()) if not each.of_measurement),
            wanted=next((each for each in further.get(point.pk, ()) if each.of_measurement), None),
            released_at=released.get(point.pk),
            kept=kept.get(point.pk),
            rework=tuple(rework.get(point.area_id, ())),
            chain=chain,
            carried=carried.get(record.pk) if record else None,
            paint=under(point.coat, paint.get(point.area_id, ())),
        )
    return found


def _required(points: Sequence[HoldPoint]) -> dict[UUID, list[Required]]:
    """What each point requires beside its measurement, as rows of their kinds: a query a kind."""
    since = {point.pk: None if point.measured else point.fresh_from for point in points}
    asked = list(required().filter(point__in=points))
    rows: dict[UUID, Record] = {}
    for name in {each.kind for each in asked}:
        of_kind: Any = BY_NAME[name].model._default_manager
        stands = [each.stands for each in asked if each.kind == name and each.stands]
        rows |= of_kind.select_related("project", "area", "gauge", "taken_by", "standing").in_bulk(stands)
    found: dict[UUID, list[Required]] = defaultdict(list)
    for each in asked:
        record = rows.get(each.stands)
        holds = [span for span in (each.fresh_for, each.holds_for) if span is not None]
        told = Required(
            BY_NAME[each.kind], record, getattr(record, "standing", None), since[each.point_id], each.how_many,
            each.carrying, min(holds, default=None),
        )  # fmt: skip
        found[each.point_id].append(told)
    return found
