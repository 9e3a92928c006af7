"""What it costs to calibrate or check a gauge late: what rests on it now, its pace, and what waiting would add."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import Any

from django.db.models import Count, Q, QuerySet, Sum
from django.db.models.functions import Coalesce, TruncDate

from accounts.models import Person
from inspection.fieldwork.models import Record, ThicknessRecord
from inspection.holdpoints.ground import grounded
from inspection.holdpoints.models import HoldPoint
from inspection.instruments import gauge_errors
from inspection.instruments.models import Certificate, Gauge, InstrumentRules, Verification
from inspection.instruments.queries import Reliance
from inspection.projects.models import InspectionArea, Project
from inspection.projects.queries import SURFACE
from inspection.standards import calculate
from inspection.standards.drift import OUTSIDE
from inspection.standards.intervals import LONGEST_DAYS
from inspection.standing.models import Standing
from inspection.trace.kinds import links

DAYS_OF_PACE = 30
LOOKED_BACK = timedelta(days=365)
A_WEEK = 7
DAYS_LATE = (7, 30, 90)


@dataclass(frozen=True)
class Stake:
    """What rests on readings that the next calibration or check may put in question."""

    since: str
    records: int
    readings: int
    in_question: int
    projects: int
    areas: int
    area_m2: Decimal
    points: int
    reports: int


def stake(since: str, records: QuerySet[Any]) -> Stake:
    counted = records.order_by().aggregate(
        records=Count("pk"),
        readings=Sum("reading_count", default=0),
        in_question=Sum("reading_count", filter=Q(standing__state=Standing.State.IN_QUESTION), default=0),
        projects=Count("project", distinct=True),
    )
    areas = InspectionArea.objects.filter(pk__in=records.order_by().values("area")).order_by()
    surface = areas.aggregate(areas=Count("pk"), area_m2=Coalesce(SURFACE, Decimal(0)))
    return Stake(since, **counted, **surface, points=_released_on(records), reports=_reports_on(records))


def _released_on(records: QuerySet[Any]) -> int:
    """Released points whose evidence, the newest measurement of their area after their coat, is one of the records."""
    released = grounded(HoldPoint.objects.filter(state=HoldPoint.State.RELEASED))
    return released.filter(record_id__in=records.order_by().values("pk")).count()


def _reports_on(records: QuerySet[Any]) -> int:
    """Issued reports that rest on one of the records; none while no room above holds reports."""
    resting = [
        link.rows().filter(below__in=records.order_by().values("pk")).order_by().values("above")
        for link in links()
        if (link.above, link.below) == ("report", "thickness")
    ]
    return sum(rows.distinct().count() for rows in resting)


@dataclass(frozen=True)
class Pace:
    """How much was measured on the last days with work (days of UTC), and how dense those days lie."""

    days: int
    since: date
    readings: int
    span_days: int

    @property
    def per_working_day(self) -> Fraction:
        return Fraction(self.readings, self.days)

    @property
    def working_days_per_week(self) -> Fraction:
        return Fraction(A_WEEK * self.days, self.span_days)


def pace(records: QuerySet[Any], today: date) -> Pace | None:
    """The pace of the last 30 days with work within a year; None where there are none."""
    recent = records.filter(taken_at__gte=_midnight(today) - LOOKED_BACK)
    by_day = recent.order_by().annotate(day=TruncDate("taken_at", tzinfo=UTC)).values("day")
    days = list(by_day.annotate(readings=Sum("reading_count")).order_by("-day")[:DAYS_OF_PACE])
    if not days:
        return None
    since = days[-1]["day"]
    span = max(A_WEEK, (today - since).days + 1)
    return Pace(len(days), since, sum(row["readings"] for row in days), span)


@dataclass(frozen=True)
class Waiting:
    """One row of the table: the gauge calibrated on a day, as `lateness-cost` answers."""

    label: str
    on: date
    answer: dict[str, Any]
    cost_of_a_reading: Decimal | None

    @property
    def known(self) -> bool:
        """Whether there is a probability, and with it an expectation."""
        return "probability_out_of_tolerance" in self.answer

    @property
    def probability(self) -> str:
        if not self.known:
            return "not known"
        pct = f"{100 * self.answer['probability_out_of_tolerance']:.1f}"
        return {"0.0": "under 0.1 %", "100.0": "over 99.9 %"}.get(pct, f"{pct} %")

    @property
    def to_measure_again(self) -> int:
        """Whole readings: those expected, or at least those certain where nothing more is known."""
        return _whole(self.answer["readings_expected" if self.known else "readings_certain"])

    @property
    def cost(self) -> Decimal | None:
        """Of these whole readings, so that the figures of a row agree."""
        return None if self.cost_of_a_reading is None else self.to_measure_again * self.cost_of_a_reading


@dataclass(frozen=True)
class Lateness:
    """Everything about one gauge, as far as the person sees the records that rest on it."""

    gauge: Gauge
    person: Person
    now: datetime
    series: gauge_errors.Series | None

    @property
    def today(self) -> date:
        return gauge_errors.today_of(self.series, self.now)

    @cached_property
    def certificate(self) -> Certificate | None:
        return gauge_errors.calibration_of(self.gauge, self.today)

    @cached_property
    def failed(self) -> Verification | None:
        return gauge_errors.failed_check(self.gauge, self.person, self.certificate)

    @cached_property
    def study(self) -> gauge_errors.Study | None:
        """What the page of the gauge says of the same errors, so that both pages agree."""
        if not self.series:
            return None
        return gauge_errors.study(self.series, calibration=self.certificate, failed=self.failed)

    @cached_property
    def why_not_relied_on(self) -> str:
        return Reliance.on(self.today, gauges=[self.gauge]).why_not(self.gauge)

    @cached_property
    def records(self) -> QuerySet[Any]:
        """All measurements made with the gauge, corrections in place of what they correct."""
        seen: Any = Record.objects.visible_to(self.person).filter(kind=ThicknessRecord.KIND)
        rows: QuerySet[Any] = seen.current().filter(gauge=self.gauge)
        return rows

    @cached_property
    def since_calibration(self) -> QuerySet[Any]:
        if not self.certificate:
            return self.records.none()
        return self._from_day(self.certificate.issued)

    def _from_day(self, day: date) -> QuerySet[Any]:
        """Measurements begun on that day of their own project or later."""
        # A day more on either side: which day a moment belongs to is its project's own.
        near = self.records.filter(taken_at__gte=_midnight(day) - timedelta(days=2))
        begun = Q(pk=None)
        for project in Project.objects.filter(pk__in=near.order_by().values("project")):
            begun |= Q(project=project, taken_at__gte=project.day_bounds(day)[0])
        return near.filter(begun)

    @cached_property
    def last_check(self) -> Verification | None:
        """The last passing check since the calibration that speaks for the readings before it."""
        if not self.certificate:
            return None
        checks = Verification.objects.visible_to(self.person).current().filter(
            gauge=self.gauge, verdict=Verification.Verdict.PASS, taken_at__lte=self.now,
            taken_at__gte=_midnight(self.certificate.issued),
        )  # fmt: skip
        return checks.exclude(gauge_errors.AFTER_ADJUSTING).select_related("project").order_by("-taken_at").first()

    @cached_property
    def at_stake(self) -> Stake:
        return stake("the calibration", self.since_calibration)

    @cached_property
    def since_check(self) -> Stake | None:
        """What the next check speaks for; None where no check has passed since the calibration: then for all."""
        if not self.last_check:
            return None
        after = self.since_calibration.filter(ended_at__gt=self.last_check.taken_at)
        return stake("the last passing check", after)

    @property
    def stakes(self) -> list[Stake]:
        return [one for one in (self.at_stake, self.since_check) if one]

    @cached_property
    def pace(self) -> Pace | None:
        return pace(self.records, self.today)

    @property
    def per_working_day(self) -> float:
        return float(self.pace.per_working_day) if self.pace else 0

    @property
    def working_days_per_week(self) -> float:
        return float(self.pace.working_days_per_week) if self.pace else 0

    @cached_property
    def rules(self) -> InstrumentRules:
        return InstrumentRules.now()

    @property
    def days_late(self) -> int:
        return max(0, (self.today - self.certificate.expires).days) if self.certificate else 0

    @property
    def tolerance_um(self) -> float | None:
        return self.study.tolerance_um if self.study else None

    @property
    def days_checked(self) -> int:
        return len({error.day for error in self.series.errors}) if self.series else 0

    @property
    def too_few_checks(self) -> bool:
        return self.days_checked < gauge_errors.FEWEST_FOR_DRIFT or not self.tolerance_um

    def _may_be_out_before(self, day: date) -> bool:
        """Whether a check may find it outside its tolerance before a day, as the advice on the interval has it."""
        forecast = self.study.forecast if self.study else None
        if not forecast:
            return False
        earliest = date.fromisoformat(forecast["earliest"]) if "earliest" in forecast else day
        return forecast["state"] == OUTSIDE or earliest < day

    @cached_property
    def rows(self) -> list[Waiting]:
        """Calibrated today, on the due day, and 7, 30 and 90 days later; later than today where it is overdue."""
        if not self.certificate:
            return []
        given, ahead = self._given(self.certificate), (self.certificate.expires - self.today).days
        wanted = [("Today", 0)]
        if ahead > 0:
            wanted.append(("On its due day", ahead))
        later = "days late" if ahead >= 0 else "days from now"
        wanted += [(f"{days} {later}", max(ahead, 0) + days) for days in DAYS_LATE]
        return [self._waiting(label, days, given) for label, days in wanted if days <= LONGEST_DAYS]

    def _waiting(self, label: str, days: int, given: dict[str, Any]) -> Waiting:
        on = self.today + timedelta(days=days)
        answer = calculate("lateness-cost", {**given, "calibrated_on": on.isoformat()})
        return Waiting(label, on, answer, self.rules.cost_of_a_reading)

    def _given(self, certificate: Certificate) -> dict[str, Any]:
        given: dict[str, Any] = {
            "today": self.today.isoformat(),
            "due_on": certificate.expires.isoformat(),
            "readings_at_stake": self.at_stake.readings,
            "readings_past_due": self._past_due(certificate),
            "readings_per_working_day": self.pace.per_working_day if self.pace else 0,
            "working_days_per_week": self.pace.working_days_per_week if self.pace else 0,
        }
        if self.series and not self.too_few_checks and not self.failed:
            dated = [{"date": error.day.isoformat(), "value": error.error_um} for error in self.series.errors]
            given |= {"errors_um": dated, "tolerance_um": self.tolerance_um}
        if self.rules.cost_of_a_reading is not None:
            given["cost_of_a_reading"] = self.rules.cost_of_a_reading
        return given

    def _past_due(self, certificate: Certificate) -> int:
        if not self.days_late:
            return 0
        rows = self._from_day(certificate.expires + timedelta(days=1))
        return int(rows.order_by().aggregate(readings=Sum("reading_count", default=0))["readings"])

    @property
    def advice(self) -> str:
        """One sentence, from the rows."""
        if not self.certificate:
            return ""
        today = self.rows[0].answer
        a_day = _about(today["readings_added_per_day"])
        if self.failed and not self.days_late:
            return "Have it calibrated now. What waiting would cost cannot be told until the failed check is settled."
        if not self.rows[-1].answer["readings_at_stake"]:
            return "Nothing rests on it since its calibration and nothing is being measured: waiting costs no readings."
        if self.days_late:
            return (
                f"Calibrate it now: it is {self.days_late} day{'' if self.days_late == 1 else 's'} late, which puts "
                f"{_readings(today['readings_certain'])} in question for certain, and each further day adds {a_day}."
            )
        at_due = next((row.answer for row in self.rows if row.on == self.certificate.expires), None)
        if not at_due:
            return "Its due day lies more than ten years ahead: nothing can be said of a day that far."
        return _advice_before_due(at_due, a_day, forward=self._may_be_out_before(self.certificate.expires))


def _advice_before_due(at_due: dict[str, Any], a_day: str, *, forward: bool) -> str:
    probability = at_due.get("probability_out_of_tolerance")
    if probability is None and forward:
        return "Check it now: the last error found lies outside the tolerance, and no check since says otherwise."
    if probability is None:
        return f"Calibrate it by its due day: each day after it puts {a_day} in question for certain."
    expected, at_stake = _whole(at_due["readings_expected"]), _readings(at_due["readings_at_stake"])
    if forward:
        return (
            f"Bring the calibration forward: on the due day the gauge is found out of tolerance with a probability of "
            f"{100 * probability:.0f} %, which means about {expected} of {at_stake} to measure again."
        )
    return (
        f"The due day can stand: until then about {expected} of {at_stake} would be measured again; each day after it "
        f"puts {a_day} in question for certain."
    )


def _readings(many: float) -> str:
    return f"{_whole(many)} reading{'' if _whole(many) == 1 else 's'}"


def _whole(many: float) -> int:
    """The nearest whole number, halves up: as the templates round."""
    return math.floor(many + 0.5)


def _about(many: float) -> str:
    """A pace in words: a gauge in little use adds less than one reading a day."""
    if not many:
        return "no readings"
    return f"about {_readings(many)}" if many >= 1 else "less than one reading"


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time(), tzinfo=UTC)
