"""What a daily report tells, as plain frozen values. The same facts give the same digest and the same PDF."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from accounts import journal
from reports.daily.chain_facts import LinkNotMet
from reports.daily.diary_facts import DiaryLine, HoursLost, PersonHours, SignedDay
from reports.daily.extent_facts import Reaching, RepairedTold
from reports.daily.naming import number_of
from reports.daily.work_facts import Advance, BatchTold, LotTold, MixTold, NoticeTold

# Facts that reports of earlier days did not know: where there is nothing to tell, their digests stay what they were.
LATER = (
    "as_found", "late", "observed", "for_control", "humidity_min_pct", "rework", "also", "noted", "passed_over",
    "station", "more", "stations", "photos", "lots", "mixes", "batches", "draft",
    "grade", "of_record", "on", "said", "progress", "notices",
    "diary", "person_hours", "hours_lost", "signed",
    "chains", "address", "logo", "order_number", "references", "distribution", "compared",
    "part", "one_a", "became", "reaches", "repaired",
)  # fmt: skip


# What follows from a record's id, for records never change, and came later than their reports: in no digest.
BY_ID = ("spots",)


def _told(items: list[tuple[str, Any]]) -> dict[str, Any]:
    return {name: value for name, value in items if name not in BY_ID and (value or name not in LATER)}


@dataclass(frozen=True)
class PersonOnSite:
    name: str
    organisation: str
    qualifications: tuple[str, ...]
    recorded: str


@dataclass(frozen=True)
class FailedCheck:
    """A condition that was not met. `limit` and `observed` are in `unit` as the standards core answered them."""

    sentence: str
    clause: str
    limit: float | str | None
    observed: float | str | None
    unit: str
    decided_by: tuple[int, ...]
    counted_in: str
    where: str


@dataclass(frozen=True, kw_only=True)
class Recorded:
    """What is told of every record, whatever was observed."""

    id: str
    area: str
    coat: str
    verdict: str
    by: str
    gauge: str
    note: str
    failed: tuple[FailedCheck, ...]
    # When it came in, if that was after the day had ended.
    late: datetime | None = None


@dataclass(frozen=True, kw_only=True)
class Relied(Recorded):
    """And of one that can be relied on so far."""

    structure: str
    standing: str
    reasons: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Climate(Recorded):
    """Temperatures in °C, humidity in %."""

    at: datetime
    dry_bulb_c: float
    wet_bulb_c: float | None
    humidity_pct: float
    surface_c: float
    dew_point_c: float
    margin_c: float
    margin_min_c: float
    humidity_min_pct: float | None
    humidity_max_pct: float | None
    # Where it was read for all the areas around, and what else was read there: wind, rain, the warmest steel.
    station: str = ""
    more: str = ""


@dataclass(frozen=True)
class LoggedDay:
    """What a station's log says of the day: hours of it within the limits named, outside, and without samples."""

    file: str
    limits: str
    within_h: float
    outside_h: float
    unknown_h: float
    longest_breach_h: float
    breach_from: datetime | None
    least_margin_c: float | None


@dataclass(frozen=True)
class StationDay:
    """A climate station on the day: how often it was read, the times nobody read it for too long, and its logger."""

    station: str
    where: str
    serves: int
    readings: int
    unread: tuple[tuple[datetime, datetime], ...]
    holds_h: float
    logged: tuple[LoggedDay, ...]


@dataclass(frozen=True, kw_only=True)
class Thickness(Relied):
    """One thickness record. `values_nm` are the readings as judged: without voided ones, less the correction."""

    area_name: str
    area_m2: float
    coat_order: int
    product: str
    rule: str
    edition: str
    # For control only: the result of the coat decides nothing.
    for_control: bool
    minimum_nm: int | None
    nominal_nm: int | None
    maximum_nm: int | None
    values_nm: tuple[int, ...]
    wanted: int
    mean_nm: int | None
    lowest_nm: int | None
    highest_nm: int | None
    profile_way: str
    correction_nm: int
    began: datetime
    ended: datetime
    # Of each of the values the spot it was taken at.
    spots: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Observed(Relied):
    """One record of a kind that is told in a line: what was found, as the kind words it."""

    kind: str
    title: str
    at: datetime
    found: str


@dataclass(frozen=True)
class StandardUsed:
    identity: str
    certified_nm: int
    certificate: str
    expires: date
    unusable: str


@dataclass(frozen=True)
class CheckPoint:
    """One thickness at which a gauge was checked, in nm."""

    standards: tuple[StandardUsed, ...]
    certified_nm: int
    readings: int
    mean_nm: float
    error_nm: float
    tolerance_nm: float | None
    verdict: str


@dataclass(frozen=True)
class ComparedPoint:
    """What an instrument that reads no thickness was compared with, in `unit`."""

    standard: str
    certificate: str
    expires: date
    unusable: str
    unit: str
    reference: float
    readings: int
    mean: float
    error: float
    tolerance: float
    verdict: str


@dataclass(frozen=True)
class GaugeCheck:
    id: str
    at: datetime
    purpose: str
    adjustment: str
    surface: str
    by: str
    verdict: str
    verified_from_nm: int | None
    verified_to_nm: int | None
    points: tuple[CheckPoint, ...]
    # How the accuracies of gauge and standard became the tolerance, in words.
    combination: str
    note: str
    # Where values were corrected since: what was found with the old ones. All else is with the corrected ones.
    as_found: str = ""
    # Of an instrument that reads no thickness, in place of the points.
    compared: tuple[ComparedPoint, ...] = ()


@dataclass(frozen=True)
class Instrument:
    identity: str
    kind: str
    described: str
    certificate: str
    expires: date | None
    unusable: str
    checks: tuple[GaugeCheck, ...]
    judged: bool


@dataclass(frozen=True)
class Point:
    """A hold or witness point as it stood at the end of the day."""

    id: str
    kind: str
    title: str
    area: str
    coat: str
    state: str
    # Of what was said of it last, by the day's end.
    at: datetime | None
    signed_as: str
    reason: str
    # That, where it is not what made the state: attended, or did not come.
    noted: str = ""
    # What was said of it before that on the same day; several parties may each say something.
    also: tuple[Said, ...] = ()
    # When work first went on over it while it held, by the day's end.
    passed_over: datetime | None = None


@dataclass(frozen=True)
class Said:
    """A word on a point, a nonconformance or an item of rework: what it came to, when, who said it, and why."""

    outcome: str
    at: datetime
    signed_as: str
    reason: str


@dataclass(frozen=True)
class Nonconforming:
    number: int
    title: str
    area: str
    coat: str
    raised_at: datetime
    closed_at: datetime | None
    that_day: str
    repair: str
    # When it was raised, if that was after the day of the measurement that it belongs to.
    late: datetime | None = None
    # Drawn up by the platform, and issued by nobody until the day's end.
    draft: bool = False
    grade: str = ""
    # The record on which it was raised: its id, and what and when it was.
    of_record: str = ""
    on: str = ""
    # What was entered about it that day and stood at its end.
    said: tuple[Said, ...] = ()
    # How far it reaches, as far as that was looked for, and what is repaired of its area.
    reaches: Reaching | None = None
    repaired: tuple[RepairedTold, ...] = ()


@dataclass(frozen=True)
class Rework:
    """An item of rework that was opened or closed that day, or open at its end."""

    what: str
    place: str
    area: str
    coat: str
    opened_at: datetime
    state: str
    done: str
    # When it came in, if that was after the day of the record that opened it; and what was said of it that day.
    late: datetime | None = None
    said: tuple[Said, ...] = ()


@dataclass(frozen=True)
class DrawnOver:
    """One shape over a photo; places as shares of width and height from top left."""

    shape: str
    begin: tuple[float, ...]
    end: tuple[float, ...] | None
    text: str

    @property
    def as_sent(self) -> dict[str, Any]:
        return {"shape": self.shape, "from": self.begin, "to": self.end, "text": self.text}


@dataclass(frozen=True)
class PhotoTold:
    """A photo that was chosen for the report, of one of the day's records, with what stands drawn over it."""

    id: str
    record: str
    of: str
    caption: str
    taken_at: datetime | None
    received_at: datetime
    by: str
    digest: str
    shapes: tuple[DrawnOver, ...]


@dataclass(frozen=True)
class Correction:
    what: str
    change: str
    reason: str
    by: str
    at: datetime | None


@dataclass(frozen=True)
class RestsOn:
    """Ids of what the report stands on, by the kinds of `Basis`."""

    thickness: tuple[str, ...]
    climate: tuple[str, ...]
    verification: tuple[str, ...]
    holdpoint: tuple[str, ...]


@dataclass(frozen=True)
class DayFacts:
    company: str
    project_code: str
    project_name: str
    client: str
    contractor: str
    structures: tuple[str, ...]
    day: date
    begins: datetime
    ends: datetime
    zone: str
    unit: str
    people: tuple[PersonOnSite, ...]
    climates: tuple[Climate, ...]
    thicknesses: tuple[Thickness, ...]
    observed: tuple[Observed, ...]
    instruments: tuple[Instrument, ...]
    points: tuple[Point, ...]
    nonconformances: tuple[Nonconforming, ...]
    rework: tuple[Rework, ...]
    corrections: tuple[Correction, ...]
    rests_on: RestsOn
    photos: tuple[PhotoTold, ...] = ()
    stations: tuple[StationDay, ...] = ()
    chains: tuple[LinkNotMet, ...] = ()
    lots: tuple[LotTold, ...] = ()
    mixes: tuple[MixTold, ...] = ()
    batches: tuple[BatchTold, ...] = ()
    progress: tuple[Advance, ...] = ()
    notices: tuple[NoticeTold, ...] = ()
    diary: tuple[DiaryLine, ...] = ()
    person_hours: tuple[PersonHours, ...] = ()
    hours_lost: tuple[HoursLost, ...] = ()
    signed: tuple[SignedDay, ...] = ()
    # What stands at the head of papers: the company's address and the digest of its logo, the project's particulars.
    address: str = ""
    logo: str = ""
    order_number: str = ""
    references: tuple[str, ...] = ()
    distribution: tuple[str, ...] = ()
    # The shift or discipline that is told, and which of the two it is; empty where all of the day is.
    part: str = ""
    one_a: str = ""

    @property
    def number(self) -> str:
        return number_of(self.project_code, self.day, self.part)

    @property
    def digest(self) -> str:
        """SHA-256 of all facts; printed at the foot of every page."""
        return journal.digest_of(asdict(self, dict_factory=_told))

    @property
    def stretch(self) -> str:
        """What the paper tells of, in a word: its day, or the shift of it."""
        return "shift" if self.one_a == "shift" else "day"

    def tells(self, discipline: str) -> bool:
        """Whether what belongs to the discipline is told in this paper, and not in another of the day."""
        return self.one_a != "discipline" or self.part == discipline

    @property
    def nothing_recorded(self) -> bool:
        recorded = self.climates or self.thicknesses or self.observed or self.instruments or self.corrections
        arose = any(each.that_day != "open" for each in self.nonconformances)
        return not (recorded or arose or self.lots or self.mixes or self.batches or self.diary)

    def local(self, at: datetime) -> datetime:
        return at.astimezone(ZoneInfo(self.zone))


@dataclass(frozen=True)
class Stamp:
    """What an issue adds to the facts: revision, who issued it and when, and why there is a new revision."""

    revision: int
    issued_by: str
    issued_at: datetime
    reason: str
    # How far the chain over the journal had come; it leaves the house with the paper.
    journal_head: str = ""
    # Who looked the draft through, and when.
    reviewed_by: str = ""
    reviewed_at: datetime | None = None
    # Why nobody but who wrote of the day did.
    not_reviewed: str = ""
