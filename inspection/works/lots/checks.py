"""What is wrong with a lot that was sent, and what is doubtful about it before it is stored."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db.models import Sum

from inspection.foundation.refusals import Fault
from inspection.projects.models import Coat, FormerSystem, InspectionArea, Project, StripeCoat
from inspection.projects.preconditions import in_time
from inspection.standards.drying import CLOSED, NOT_YET_OPEN
from inspection.works.climate_told import climate_at
from inspection.works.films import films_of
from inspection.works.lots.mixes import ALL_THE_SAME, MixDrawn, mix_doubts, mix_faults
from inspection.works.lots.windows import windows_of
from inspection.works.models import Crew, Lot, LotPlace, Shift
from inspection.works.signals import holds_asked

MOST_PLACES = 500
# A lot that lasts longer is a slip, or several lots (our own limit, no source); so is a pressure above this.
LONGEST = timedelta(hours=36)
MOST_BAR = 3_000
# So long a passing climate record stands for the beginning (common practice, no source).
CLIMATE_STANDS = timedelta(hours=4)
ON_STEEL = (Lot.Activity.PRECLEAN, Lot.Activity.BLAST)
OF_COATS = (Lot.Activity.STRIPE, Lot.Activity.COAT)
PUTS_ON = {
    Lot.Method.AIRLESS, Lot.Method.AIR_ASSISTED, Lot.Method.CONVENTIONAL, Lot.Method.PLURAL, Lot.Method.BRUSH,
    Lot.Method.ROLLER,
}  # fmt: skip
CLEANS = {
    Lot.Method.DRY_BLAST, Lot.Method.WET_BLAST, Lot.Method.JETTING, Lot.Method.POWER_TOOL, Lot.Method.HAND_TOOL,
    Lot.Method.WASHING, Lot.Method.SOLVENT,
}  # fmt: skip
HUNDREDTH = Decimal("0.01")


@dataclass(frozen=True, kw_only=True)
class PlaceSent:
    """An area and how much of it: m², or a share in %; neither: all of it."""

    area: InspectionArea
    m2: Decimal | None = None
    share_pct: Decimal | None = None

    @property
    def found_m2(self) -> Decimal:
        share = 100 if self.share_pct is None else self.share_pct
        return (self.area.area_m2 * share / 100 if self.m2 is None else self.m2).quantize(HUNDREDTH)


@dataclass(frozen=True, kw_only=True)
class LotSent:
    """A lot as it was sent: what, where, by whom, when and how; see the columns of `Lot`."""

    activity: str
    places: Sequence[PlaceSent]
    crew: Crew
    begun_at: datetime
    method: str
    ended_at: datetime | None = None
    coat: Coat | None = None
    stripe: StripeCoat | None = None
    shift: Shift | None = None
    parents: Sequence[Lot] = ()
    mixes: Sequence[MixDrawn] = ()
    pump_ratio: str = ""
    tip: str = ""
    pressure_bar: Decimal | None = None
    applicators: str = ""
    thinner_pct: Decimal | None = None
    drawn_l: Decimal | None = None
    returned_l: Decimal | None = None
    note: str = ""
    # Of what it replaces: the number that its versions share.
    number: int | None = field(default=None)


def faults_of(project: Project, sent: LotSent) -> list[Fault]:
    """All that is wrong with it, field by field and row by row; nothing for a possible one."""
    return [
        *_choices(sent), *_of_whom(project, sent), *_times(project, sent), *_figures(sent), *_places(project, sent),
        *mix_faults(project, sent.coat, sent.begun_at, sent.ended_at, sent.mixes), *_begun_over_holds(sent),
    ]  # fmt: skip


def _choices(sent: LotSent) -> Iterator[Fault]:
    if sent.activity not in Lot.Activity.values:
        yield Fault(f"Give one of {', '.join(Lot.Activity.values)}.", "activity")
    elif sent.activity in ON_STEEL and sent.coat:
        yield Fault("Pre-cleaning and blast cleaning are of the bare steel: leave the coat out.", "coat")
    elif sent.activity in OF_COATS and not sent.coat:
        yield Fault("Say which coat it is.", "coat")
    if sent.method not in Lot.Method.values:
        yield Fault(f"Give one of {', '.join(Lot.Method.values)}.", "method")
    elif sent.activity in ON_STEEL and sent.method in PUTS_ON:
        yield Fault("That is a way to put paint on; say how the steel was cleaned.", "method")
    elif sent.activity in OF_COATS and sent.method in CLEANS:
        yield Fault("That is a way to clean steel; say how the paint was put on.", "method")
    if sent.stripe and sent.activity != Lot.Activity.STRIPE:
        yield Fault("A stripe coat is named for the activity of one.", "stripe")
    elif sent.stripe and sent.coat and sent.stripe.coat_id != sent.coat.pk:
        yield Fault(f"{sent.stripe} is not specified beside {sent.coat.name}.", "stripe")


def _of_whom(project: Project, sent: LotSent) -> Iterator[Fault]:
    if sent.crew.project_id != project.pk:
        yield Fault(f"{sent.crew} is no crew of {project.code}.", "crew")
    if sent.shift and sent.shift.crew_id != sent.crew.pk:
        yield Fault(f"That shift is not one of crew {sent.crew}; choose one of its shifts, or none.", "shift")
    if sent.coat and sent.coat.system.project_id != project.pk:
        yield Fault(f"{sent.coat.name} is no coat of {project.code}.", "coat")
    if any(parent.project_id != project.pk for parent in sent.parents):
        yield Fault(f"Every lot that it follows is one of {project.code}.", "parents")
    late = [parent for parent in sent.parents if parent.begun_at > sent.begun_at or parent.number == sent.number]
    for parent in late:
        yield Fault(f"{parent} was not begun before this one, so this one does not follow it.", "parents")


def _times(project: Project, sent: LotSent) -> list[Fault]:
    faults = in_time(sent.begun_at, "begun_at") + (in_time(sent.ended_at, "ended_at") if sent.ended_at else [])
    if faults or not sent.ended_at:
        return faults
    return ended_faults(project, sent.begun_at, sent.ended_at)


def ended_faults(project: Project, begun_at: datetime, ended_at: datetime, name: str = "ended_at") -> list[Fault]:
    """What is wrong with an end; a possible one lies after the beginning and not days later."""
    begun = f"{begun_at.astimezone(project.zone):%Y-%m-%d %H:%M}"
    if ended_at <= begun_at:
        return [Fault(f"It began at {begun}; give an end after that.", name)]
    if ended_at - begun_at > LONGEST:
        hours = LONGEST.total_seconds() / 3600
        return [
            Fault(f"It began at {begun}, more than {hours:.0f} h before: check the day, or record its parts.", name)
        ]
    return []


def _figures(sent: LotSent) -> Iterator[Fault]:
    for name, most, what in (
        ("pressure_bar", MOST_BAR, "bar"), ("thinner_pct", 200, "%"), ("drawn_l", 100_000, "l"),
        ("returned_l", 100_000, "l"),
    ):  # fmt: skip
        value = getattr(sent, name)
        if value is not None and not 0 <= value <= most:
            yield Fault(f"Give a figure from 0 to {most:,} {what}.", name)
    yield from litre_faults(sent.drawn_l, sent.returned_l)
    if sent.activity in ON_STEEL and (sent.drawn_l is not None or sent.thinner_pct is not None):
        yield Fault("No paint is used on steel that is being cleaned.", "drawn_l")


def _begun_over_holds(sent: LotSent) -> Iterator[Fault]:
    """What is to begin is refused by an open hold before it; of what ended, was begun or repairs, it is asked about."""
    if _refuses(sent):
        for fault in _open_holds(sent):
            yield Fault(f"{fault.message} {ALL_THE_SAME}", "places")


def _refuses(sent: LotSent) -> bool:
    return sent.ended_at is None and sent.number is None and sent.activity != Lot.Activity.REPAIR


def litre_faults(drawn: Decimal | None, returned: Decimal | None) -> Iterator[Fault]:
    if returned is not None and drawn is None:
        yield Fault("Say how many litres were drawn.", "drawn_l")
    elif returned is not None and drawn is not None and returned > drawn:
        yield Fault(
            f"{plain(returned)} l came back of {plain(drawn)} l drawn: at most what was drawn can come back.",
            "returned_l",
        )


def _places(project: Project, sent: LotSent) -> Iterator[Fault]:
    if not sent.places:
        yield Fault("Name at least one inspection area.", "places")
    if len(sent.places) > MOST_PLACES:
        yield Fault(f"At most {MOST_PLACES} areas in one lot; this names {len(sent.places)}.", "places")
        return
    many = Counter(place.area.pk for place in sent.places)
    fits = _fitting(sent)
    for number, place in enumerate(sent.places, start=1):
        yield from _place(project, sent, place, number)
        if many[place.area.pk] > 1:
            yield Fault(f"{place.area.label} is named more than once; give it one line.", "places", number)
        if sent.coat and place.area.pk not in fits:
            told = f"{sent.coat.name} of {sent.coat.system} is no coat of {place.area.label}, whose system is"
            yield Fault(f"{told} {place.area.system}.", "places", number)


def _place(project: Project, sent: LotSent, place: PlaceSent, number: int) -> Iterator[Fault]:
    area = place.area
    if area.structure.project_id != project.pk:
        yield Fault(f"{area.label} is no area of {project.code}.", "places", number)
    if place.m2 is not None and place.share_pct is not None:
        yield Fault("Give m² or a share, not both.", "places", number)
    elif place.share_pct is not None and not 0 < place.share_pct <= 100:
        yield Fault(
            f"{plain(place.share_pct)} % of {area.label}: give a share above 0 and at most 100 %.", "places", number
        )
    elif place.found_m2 <= 0:
        yield Fault(f"Give more than 0 m² of {area.label}.", "places", number)
    elif place.found_m2 > area.area_m2:
        yield Fault(
            f"{plain(place.found_m2)} m² of {area.label}, which has {plain(area.area_m2)} m²: give at most that.",
            "places",
            number,
        )
    if area.retired_at and sent.begun_at > area.retired_at:
        yield Fault(f"{area.label} was retired before that; choose what took its place.", "places", number)


def _fitting(sent: LotSent) -> set[UUID]:
    """The areas on which the coat is a step now, or was one under a system that they had."""
    if not sent.coat:
        return set()
    areas = {place.area.pk: place.area for place in sent.places}
    films = films_of(areas.values())
    former = FormerSystem.objects.filter(area__in=areas, system=sent.coat.system_id).values_list("area", flat=True)
    return {pk for pk, film in films.items() if sent.coat.pk in {coat.pk for coat in film}} | set(former)


# --- doubts -----------------------------------------------------------------------------------------------------------


def doubts_of(project: Project, sent: LotSent) -> list[Fault]:
    """What is asked about before it is stored, each with what it would be against."""
    mixes = mix_doubts(project, sent.coat, sent.begun_at, sent.ended_at, sent.mixes, number=sent.number)
    return [*_thinner(sent), *_windows(project, sent), *_climate(sent), *_holds(sent), *mixes, *_again(sent)]


def _thinner(sent: LotSent) -> Iterator[Fault]:
    sheet = sent.coat.data_sheet if sent.coat else None
    most = sheet.thinner_max_pct if sheet else None
    if most is not None and sent.thinner_pct is not None and sent.thinner_pct > most:
        yield Fault(
            f"{plain(sent.thinner_pct)} % of thinner; the data sheet allows at most {plain(most)} %.", "thinner_pct"
        )


def _windows(project: Project, sent: LotSent) -> Iterator[Fault]:
    if not sent.coat:
        return
    areas = [place.area for place in sent.places]
    upto = {area.pk: sent.coat.order for area in areas}
    for window in windows_of(areas, sent.begun_at, upto=upto):
        clock, where = window.clock, f"{window.area.label}, {window.coat.name}"
        if clock.state == NOT_YET_OPEN and clock.opens_at:
            opens = f"{clock.opens_at.astimezone(project.zone):%Y-%m-%d %H:%M}"
            yield Fault(f"{where}: not to be painted over before {opens}.", "begun_at")
        elif clock.state == CLOSED and clock.closes_at:
            closed = f"{clock.closes_at.astimezone(project.zone):%Y-%m-%d %H:%M}"
            yield Fault(f"{where}: its recoat window closed at {closed}.", "begun_at")


def _climate(sent: LotSent) -> Iterator[Fault]:
    if not sent.coat:
        return
    ids = [place.area.pk for place in sent.places]
    told = climate_at(ids, sent.begun_at - CLIMATE_STANDS, sent.begun_at)
    without = []
    for place in sent.places:
        own = [each for each in told[place.area.pk] if each.coat in (None, sent.coat.pk)]
        if not own:
            without.append(place.area.label)
        elif not own[-1].passed:
            yield Fault(f"{place.area.label}: the last climate before the beginning does not pass.", "begun_at")
    if without:
        yield Fault(
            f"{_named(without)}: no climate for this coat is recorded in the {CLIMATE_STANDS.seconds // 3600} h before "
            "the beginning.", "begun_at",
        )  # fmt: skip


def _holds(sent: LotSent) -> list[Fault]:
    return [] if _refuses(sent) else list(_open_holds(sent))


def _open_holds(sent: LotSent) -> Iterator[Fault]:
    if not sent.coat:
        return
    areas = {place.area.pk: place.area for place in sent.places}
    answers: list[tuple[Any, Any]] = holds_asked.send(
        sender=Lot, areas=list(areas), coat=sent.coat, at=sent.begun_at
    )  # fmt: skip
    for pk, words in (pair for _, pairs in answers for pair in pairs):
        yield Fault(f"{areas[pk].label}: “{words}” holds, and nobody has released or waived it.", "places")


def _again(sent: LotSent) -> Iterator[Fault]:
    """Where more was coated than there is; a repair covers again what was covered."""
    if sent.activity not in (*ON_STEEL, Lot.Activity.COAT):
        return
    rows = LotPlace.objects.filter(lot__in=Lot.objects.that_count(), lot__activity=sent.activity, lot__coat=sent.coat)
    rows = rows.filter(area__in=[place.area.pk for place in sent.places]).exclude(
        lot__number=sent.number or 0, lot__project=sent.crew.project_id
    )
    done = dict(rows.order_by().values_list("area").annotate(done=Sum("m2")))
    for place in sent.places:
        # SQLite adds decimals up as floats.
        before = done.get(place.area.pk, Decimal(0)).quantize(HUNDREDTH)
        if before and before + place.found_m2 > place.area.area_m2:
            yield Fault(
                f"{place.area.label}: with this {plain(before + place.found_m2)} m² would be recorded, and it has "
                f"{plain(place.area.area_m2)} m².", "places",
            )  # fmt: skip


def plain(value: Decimal) -> str:
    """A figure without zeros that say nothing."""
    return f"{value.normalize():f}"


def _named(labels: Sequence[str]) -> str:
    more = len(labels) - 10
    return ", ".join(labels[:10]) + (f" and {more} more" if more > 0 else "")
