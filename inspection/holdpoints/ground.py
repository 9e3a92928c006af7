"""The rule of `Evidence.why_not` (evidence.py) in SQL: what points stand on, and where each lies on the board.

A point stands on the newest thickness record of its area after its coat, and on whatever else it requires.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import (
    Case,
    CharField,
    Count,
    DateTimeField,
    Exists,
    F,
    FilteredRelation,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.db.models.functions import Coalesce
from django.utils import timezone

from inspection.fieldwork.kind import Reliance
from inspection.fieldwork.kinds import names
from inspection.fieldwork.models import ClimateRecord, Latest, Record, ThicknessRecord
from inspection.fieldwork.served import read_for
from inspection.foundation.statement import count_up_to
from inspection.holdpoints.models import Decision, HoldPoint, Requirement
from inspection.holdpoints.repaired import open_within, with_repaired
from inspection.standing.models import Standing
from inspection.works.lots.withdrawn_paint import places_of_withdrawn_paint

Lies = HoldPoint.Lies
# The places of the board by the name that addresses and the API use, in the order in which they want somebody.
LYING = {each.name.lower(): each for each in Lies}
PLACES: dict[str, str] = {name: str(each.label) for name, each in LYING.items()}
# The mark of each, by a state that the house's marks know.
MARKS = {
    Lies.READY: "waiting",
    Lies.DOUBT: "in_question",
    Lies.PASSED_OVER: "passed_over",
    Lies.NOTIFIED: "notified",
    Lies.UNREADY: "not ready",
    Lies.REFUSED: "refused",
    Lies.RELEASED: "released",
    Lies.PASSED: "pass",
    Lies.WAIVED: "waived",
    Lies.CLOSED: "plain",
}
# The board counts and lists no more of one place than this: of an old or a large project nobody pages through more.
MOST_LISTED = 1_000
# What a row of the board tells of a point; a coat has thirty columns more.
LISTED = (
    "title", "kind", "state", "lies", "passed_over_at", "chain_broken", "project", "area__code", "area__name",
    "area__told_by", "coat__name",
)  # fmt: skip

FRESH = Q(fresh_from=None) | Q(record_began__gte=F("fresh_from"))
# Where the project allows it, before the check of the gauge after work; the release then hangs on that check.
RELIABLE = Q(record_standing=Standing.State.SOUND) | Q(
    record_standing=Standing.State.PROVISIONAL, project__provisional_releases=True
)
# After a coat for control only it is enough that the film was measured: what was found decides nothing there.
# One that fails holds together with the repaired part of its area, see `repaired.py`.
CARRIED = Q(record_verdict=Record.Verdict.FAIL, carried=True) & RELIABLE & (Q(fresh_from=None) | Q(carried_anew=True))
MEASUREMENT_HOLDS = (
    (((Q(record_verdict=Record.Verdict.PASS) & RELIABLE) | Q(coat__decides=False)) & FRESH) | CARRIED
) & ~Q(record_id=None)
HOLDS = (Q(measured=False) | MEASUREMENT_HOLDS) & Q(further=HoldPoint.Further.MET)
# A released point does not fall into doubt because newer readings wait for their closing check.
MEASUREMENT_LOST = Q(record_id=None) | (
    Q(coat__decides=True)
    & (Q(record_verdict=Record.Verdict.FAIL, carried_still=False) | Q(record_standing=Standing.State.IN_QUESTION))
)
IN_DOUBT = (
    (Q(measured=True) & MEASUREMENT_LOST)
    | Q(climate_failed_since=True)
    | Q(paint_withdrawn_since=True)
    | Q(chain_broken=True)
    | Q(further=HoldPoint.Further.LOST)
)
# Of some kinds a record has no standing of its own: it is enough that it passes.
WITHOUT_STANDING = names(Reliance.NONE)
# The same of a further record that is required. Where nothing is measured, it is this that has to be newer than the
# last refusal.
STALE = Q(point__measured=False, began__lt=F("point__fresh_from"))
# Of the measurement a line only says how many and how fresh: what was found is held against MEASUREMENT_HOLDS.
OF_MEASUREMENT = Q(kind=ThicknessRecord.KIND)
UNMET = (
    Q(stands=None)
    | (~OF_MEASUREMENT & ~Q(verdict=Record.Verdict.PASS))
    | (~OF_MEASUREMENT & ~Q(kind__in=WITHOUT_STANDING) & (Q(standing=None) | ~Q(standing=Standing.State.SOUND)))
    | STALE
    | Q(how_many__gt=F("carrying"))
)
LOST = ~OF_MEASUREMENT & (Q(verdict=Record.Verdict.FAIL) | Q(standing=Standing.State.IN_QUESTION) | Q(stands=None))


def latest_of_place() -> QuerySet[Latest]:
    """What stands for the outer row's area and coat: one row, or none."""
    return Latest.objects.filter(area=OuterRef("area"), coat=OuterRef("coat"), kind=ThicknessRecord.KIND)


def grounded(points: QuerySet[HoldPoint]) -> QuerySet[Any]:
    """The points with the `record_id` of what stands for their area after their coat, if anything does."""
    of_point = Q(area__latest__coat=F("coat"), area__latest__kind=ThicknessRecord.KIND)
    found: QuerySet[Any] = points.annotate(
        ground=FilteredRelation("area__latest", condition=of_point), record_id=F("ground__record")
    )
    return found


def with_since(points: QuerySet[HoldPoint]) -> QuerySet[Any]:
    """The points with what came up after the last release: `climate_failed_since` and `paint_withdrawn_since`.

    That climate failed; that paint of the point's coat, or of one below it, is of a batch that was withdrawn.
    """
    releases = Decision.objects.filter(point=OuterRef("pk"), outcome=Decision.Outcome.RELEASED).order_by("-number")
    failed = Record.objects.filter(
        area=OuterRef("area"), coat=OuterRef("coat"), kind=ClimateRecord.KIND, verdict=Record.Verdict.FAIL,
        received_at__gt=OuterRef("released_at"),
    )  # fmt: skip
    failed_there = Q(
        station__readings__coat=OuterRef("coat"), station__readings__verdict=Record.Verdict.FAIL,
        station__readings__received_at__gt=OuterRef("released_at"),
    )  # fmt: skip
    at_stations = read_for(OuterRef("area"), failed_there)
    released: QuerySet[Any] = points.annotate(released_at=Subquery(releases.values("at")[:1]))
    paint = places_of_withdrawn_paint().filter(
        Q(batch_withdrawn_at__gt=OuterRef("released_at")) | Q(lot__entered_at__gt=OuterRef("released_at")),
        area=OuterRef("area"), lot__coat__order__lte=OuterRef("coat__order"),
    )  # fmt: skip
    found: QuerySet[Any] = released.annotate(
        climate_failed_since=Exists(failed.current().that_count()) | Exists(at_stations),
        paint_withdrawn_since=Exists(paint),
    )
    return found


def required() -> QuerySet[Any]:
    """What points require beside their measurement, with the record that `stands` for it, its verdict and standing."""
    of_place = Q(point__area__latest__kind=F("kind")) & (
        Q(point__area__latest__coat=F("coat")) | Q(point__area__latest__coat=None, coat=None)
    )
    found: QuerySet[Any] = Requirement.objects.annotate(
        now=FilteredRelation("point__area__latest", condition=of_place),
        stands=F("now__record"),
        verdict=F("now__record__verdict"),
        began=F("now__record__taken_at"),
        standing=F("now__record__standing__state"),
        # A reading of a climate station counts until the next one, and no longer than its station says.
        holds_for=F("now__record__climaterecord__station__holds_for"),
        carrying=Case(When(how_many__gt=1, then=_carrying()), default=Value(1)),
    )
    return found


def _carrying() -> Coalesce:
    """How many records of the kind and place pass and are sound; of measurements those that carry one."""
    measured = Q(coat__decides=False) | (
        Q(verdict=Record.Verdict.PASS, standing__state=Standing.State.PROVISIONAL, project__provisional_releases=True)
    )
    sound = Q(standing__state=Standing.State.SOUND) | Q(kind__in=WITHOUT_STANDING)
    of_place = Record.objects.filter(
        Q(coat=OuterRef("coat")) | Q(coat=None),
        (Q(verdict=Record.Verdict.PASS) & sound) | (OF_MEASUREMENT & measured),
        kind=OuterRef("kind"), area=OuterRef("point__area"),
    )  # fmt: skip
    many = of_place.current().that_count().order_by().values("kind").annotate(many=Count("pk")).values("many")
    return Coalesce(Subquery(many), 0)


def run_out(at: datetime) -> Q:
    """Of `required()`: what stands is older at this moment than the line, or the station it was read at, lets it be."""
    now = Value(at, output_field=DateTimeField())
    return Q(fresh_for__isnull=False, began__lt=now - F("fresh_for")) | Q(
        holds_for__isnull=False, began__lt=now - F("holds_for")
    )


def further_kept_otherwise(points: QuerySet[HoldPoint]) -> QuerySet[Any]:
    """Those of the points whose `further` is not what their requirements say, with what they say as `said`."""
    of_point = required().filter(point=OuterRef("pk"))
    said = Case(
        When(Exists(of_point.filter(LOST)), then=Value(HoldPoint.Further.LOST)),
        When(Exists(of_point.filter(UNMET | run_out(timezone.now()))), then=Value(HoldPoint.Further.UNMET)),
        default=Value(HoldPoint.Further.MET),
        output_field=CharField(),
    )
    requiring = points.filter(Exists(Requirement.objects.filter(point=OuterRef("pk"))))
    found: QuerySet[Any] = requiring.annotate(said=said).exclude(further=F("said"))
    return found


def with_ground(points: QuerySet[HoldPoint]) -> QuerySet[Any]:
    """The points with `record_id`, `record_verdict`, `record_standing`, `has_open` nonconformances and `said`.

    `said` is where the facts put it on the board; `lies` keeps a copy of that.
    """
    found: QuerySet[Any] = _with_facts(points).annotate(said=_lies())
    return found


def lies_otherwise(points: QuerySet[HoldPoint]) -> QuerySet[Any]:
    """Those of the points that are kept as lying elsewhere on the board than the facts say, in `said`."""
    found: QuerySet[Any] = with_ground(points).exclude(lies=F("said"))
    return found


def _with_facts(points: QuerySet[HoldPoint]) -> QuerySet[Any]:
    found: QuerySet[Any] = with_repaired(grounded(with_since(points))).annotate(
        record_verdict=F("ground__record__verdict"),
        record_standing=F("ground__record__standing__state"),
        record_began=F("ground__record__taken_at"),
        has_open=open_within(),
    )
    return found


def _lies() -> Case:
    its_own = Requirement.objects.filter(point=OuterRef("pk"))
    # Where no record is required, it is decided by what is seen on site: ready once somebody there presents it.
    complete = HOLDS & (Q(measured=True) | Exists(its_own) | Q(presented_at__isnull=False))
    return Case(
        When(state=HoldPoint.State.CLOSED, then=Value(Lies.CLOSED)),
        When(state=HoldPoint.State.REFUSED, then=Value(Lies.REFUSED)),
        When(IN_DOUBT, state=HoldPoint.State.RELEASED, then=Value(Lies.DOUBT)),
        When(state=HoldPoint.State.RELEASED, then=Value(Lies.RELEASED)),
        When(state=HoldPoint.State.WAIVED, then=Value(Lies.WAIVED)),
        # A witness point that was planned by hand is released; one of a line waits for no word.
        When(complete, has_open=False, kind=HoldPoint.Kind.WITNESS, line__isnull=False, then=Value(Lies.PASSED)),
        When(complete, has_open=False, then=Value(Lies.READY)),
        When(passed_over_at__isnull=False, then=Value(Lies.PASSED_OVER)),
        When(notified_for__isnull=False, then=Value(Lies.NOTIFIED)),
        default=Value(Lies.UNREADY),
        output_field=IntegerField(),
    )


def wrongly_marked() -> QuerySet[Any]:
    """Released points that are marked as doubted and are not, or the reverse."""
    released = with_ground(HoldPoint.objects.filter(state=HoldPoint.State.RELEASED))
    return released.filter((IN_DOUBT & Q(doubted_at=None)) | (~IN_DOUBT & Q(doubted_at__isnull=False)))


def on_board(
    points: QuerySet[HoldPoint], *, place: str = "", first: int = 0, many: int = 50
) -> tuple[dict[str, int], list[Any]]:
    """How many points lie in each place, and so many of one place or all, those first that want somebody.

    No more than `MOST_LISTED` of a place, or of all, are counted and listed; a count above it says that there are more.
    Those listed come by place, and within it in the order of their areas' codes; where there are more, the first in the
    order in which they were planned. Each comes with its area, its coat and the `record_id` of what stands for it.
    """
    counts = count_up_to(MOST_LISTED + 1, points.order_by(), "lies", LYING.values())
    wanted = points.filter(lies=LYING[place]) if place else points
    order = ["lies", "project__code", "area__code", "coat__order", "kind", "pk"]
    if (counts[LYING[place]] if place else sum(counts.values())) > MOST_LISTED:
        # So many are not sorted to show fifty: they are read along the index of where points lie.
        order = ["lies", "pk"]
    rows = grounded(wanted).order_by(*order).select_related("area", "coat").only(*LISTED)
    return {name: counts[each] for name, each in LYING.items() if counts[each]}, list(
        rows[:MOST_LISTED][first : first + many]
    )
