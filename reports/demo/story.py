"""Plays the scenario: some weeks of five projects, through the same actions that the pages and the API call.

Each act happens at its own moment of the story; the clock is moved there, so that records, journal and mail carry the
times they would have had.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from types import MappingProxyType
from typing import Any
from zoneinfo import ZoneInfo

import time_machine
from django.utils import timezone

from accounts import actions as people
from accounts import admitting, qualifying
from accounts.models import Organisation, Person
from inspection.fieldwork import actions as fieldwork
from inspection.fieldwork.actions import ReadingSent
from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.profile.recording import LocationSent, record_profile
from inspection.foundation.ids import new_id
from inspection.holdpoints import actions as holdpoints
from inspection.holdpoints import evidence, queries
from inspection.holdpoints.models import HoldPoint
from inspection.instruments import actions as instruments
from inspection.instruments.actions import PointSent, StandardValue, UploadedContent
from inspection.instruments.models import Gauge, ReferenceStandard, Verification
from inspection.nonconformance import actions as nonconformance
from inspection.nonconformance.models import Nonconformance
from inspection.projects import actions as projects
from inspection.projects.areas import add_area
from inspection.projects.models import Coat, InspectionArea, Project
from inspection.standards import calculate
from reports.daily import actions as reports
from reports.demo import bridge, film_tests, plot, reporting, yards
from reports.demo.invented_readings import GaugeBehaviour, Hand
from reports.demo.paper import certificate_pdf
from reports.work import jobs

# Nominal µm, certified nm and expanded uncertainty nm of a shim.
Shim = tuple[int, int, int]
NO_SHIMS: Mapping[str, Shim] = MappingProxyType({})
# A day of the project lasts from 06:00 to 06:00; the last day of the story needs this much of it behind us.
NEEDED = timedelta(hours=2, minutes=30)


class Story:
    """Plays everything once. `now` is the moment at which the demo is looked at."""

    def __init__(self, now: datetime | None = None, seed: int = plot.SEED) -> None:
        self.now = now or timezone.now()
        self.zone = ZoneInfo(plot.ZONE)
        self.hand = Hand(seed)
        # Sources of their own: what is read of the steel, and in the yards, leaves the other readings as they are.
        self.hand_on_steel = Hand(seed + 1)
        self.hand_in_yards = Hand(seed + 2)
        local = self.now.astimezone(self.zone)
        began = datetime.combine((local - timedelta(hours=6)).date(), time(6), tzinfo=self.zone)
        # Early in the morning nothing has happened yet today, and the story ends with yesterday.
        self.open_shift = local - began >= NEEDED
        self.last_day = began.date() if self.open_shift else began.date() - timedelta(days=1)
        self.person: dict[str, Person] = {}
        self.organisation: dict[str, Organisation] = {}
        self.project: dict[str, Project] = {}
        self.area: dict[str, InspectionArea] = {}
        self.coat: dict[tuple[str, int], Coat] = {}
        self.gauge: dict[str, Gauge] = {}
        self.standard: dict[str, ReferenceStandard] = {}

    def play(self) -> None:
        self.set_up()
        for days_ago in plot.CHECKS_BEFORE:
            self.yard_checks(days_ago)
        for shift in plot.SHIFTS:
            self.shift(shift)
            self.after(shift)
        film_tests.play(self)
        self.project["bridge"] = bridge.play(self)
        if self.open_shift:
            self.today()

    # --- moments -----------------------------------------------------------------------------------------------------

    def day(self, days_ago: int) -> date:
        return self.last_day - timedelta(days=days_ago)

    def moment(self, days_ago: int, clock: str) -> datetime:
        return datetime.combine(self.day(days_ago), time.fromisoformat(clock), tzinfo=self.zone)

    @contextmanager
    def at(self, moment: datetime) -> Iterator[None]:
        with time_machine.travel(moment, tick=True):
            yield

    # --- 1 and 2: people, projects, instruments ----------------------------------------------------------------------

    def set_up(self) -> None:
        with self.at(self.moment(plot.SET_UP_DAYS_AGO, "09:00")):
            self.found_company()
        with self.at(self.moment(plot.SET_UP_DAYS_AGO - 1, "09:30")):
            self.open_platform()
            self.open_tank()
            reporting.heads(self)
        yards.open_yards(self)
        with self.at(self.moment(plot.SET_UP_DAYS_AGO - 2, "10:00")):
            self.register_equipment()

    def found_company(self) -> None:
        name = plot.PEOPLE["ruth"][0]
        ruth = people.found_company(company=plot.COMPANY, email=plot.email("ruth"), name=name, password=plot.PASSWORD)
        self.person["ruth"] = ruth
        self.organisation[plot.COMPANY] = ruth.organisation
        for organisation, kind in plot.ORGANISATIONS.items():
            self.organisation[organisation] = people.add_organisation(ruth, name=organisation, kind=kind)
        for key, (name, organisation, role, _) in plot.PEOPLE.items():
            if key == "ruth":
                continue
            _, token = people.invite(
                ruth, email=plot.email(key), name=name, organisation=self.organisation[organisation], role=role
            )
            self.person[key] = people.accept_invitation(token=token, password=plot.PASSWORD)
        for key, person in self.person.items():
            if person.waits:
                self.person[key] = admitting.confirm(self.person["tove"], person=person)
        scheme = qualifying.add_scheme(self.person["tove"], name="Coating inspector")
        for key, days in (("jonas", 400), ("priya", 45)):
            qualifying.add_qualification(
                self.person["tove"], person=self.person[key], scheme=scheme, level="2",
                number=f"CI-{key[:2].upper()}17", issued=self.day(700), expires=self.day(-days),
            )  # fmt: skip

    def open_platform(self) -> None:
        self.open_project(
            "platform", code="VST-03", name="Berth 3 loading platform", client=plot.OWNER,
            members=("jonas", "priya", "edda", "benoit"), structure="Platform",
            description="Piled steel platform with two mooring dolphins, pipe rack and catwalk.",
            system="Three-coat marine atmosphere", coats=plot.PLATFORM_COATS, areas=plot.PLATFORM_AREAS,
        )  # fmt: skip
        tove, platform = self.person["tove"], self.project["platform"]
        areas = [self.area[code] for code in plot.PLATFORM_AREAS]
        for order, title in ((1, "Primer accepted before build coat"), (3, "Finish accepted")):
            holdpoints.plan_points(
                tove,
                project=platform,
                areas=areas,
                coat=self.coat["platform", order],
                kind=HoldPoint.Kind.HOLD,
                title=title,
            )

    def open_tank(self) -> None:
        self.open_project(
            "tank", code="TBH-11", name="Upper surge tank", client=plot.OTHER_OWNER, members=("priya", "lars"),
            structure="Surge tank", description="Welded steel surge tank, inside.", system="Two-coat immersion",
            coats=plot.TANK_COATS, areas=plot.TANK_AREAS,
        )  # fmt: skip
        holdpoints.plan_points(
            self.person["tove"], project=self.project["tank"], areas=[self.area[code] for code in plot.TANK_AREAS],
            coat=self.coat["tank", 2], kind=HoldPoint.Kind.HOLD, title="Lining accepted before filling",
        )  # fmt: skip

    def open_project(
        self, key: str, *, code: str, name: str, client: str, members: tuple[str, ...], structure: str,
        description: str, system: str, coats: list[projects.CoatSpec], areas: dict[str, tuple[str, str, str]],
    ) -> None:  # fmt: skip
        tove = self.person["tove"]
        project = projects.open_project(
            tove, code=code, name=name, client=self.organisation[client],
            contractor=self.organisation["Holt & Arran Painters"], time_zone=plot.ZONE, unit="um", shift_starts="06:00",
        )  # fmt: skip
        self.project[key] = project
        for member in members:
            projects.add_member(tove, project=project, person=self.person[member], role=plot.PEOPLE[member][2])
        steel = projects.add_structure(tove, project=project, name=structure, description=description)
        specified = projects.add_system(
            tove, project=project, name=system, preparation_grade="Sa 2½", profile_min_nm=50_000, profile_max_nm=85_000,
            salts_max_mg_m2=Decimal(50), salts_as="nacl", dust_max_quantity=2, dust_max_size=2, steelwork_grade="P3",
            first_coat_within_h=Decimal(8), coats=coats,
        )  # fmt: skip
        for coat in specified.coats.all():
            self.coat[key, coat.order] = coat
        for area_code, (area_name, area_m2, shape) in areas.items():
            self.area[area_code] = add_area(
                tove,
                structure=steel,
                system=specified,
                code=area_code,
                name=area_name,
                area_m2=Decimal(area_m2),
                shape=shape,
            )

    def register_equipment(self) -> None:
        tove = self.person["tove"]
        for number, identity in enumerate(plot.GAUGES):
            self.gauge[identity] = instruments.register_gauge(
                tove, identity=identity, kind=Gauge.Kind.THICKNESS, maker="", model="Induction gauge",
                serial=f"77{number}41", range_from_nm=0, range_to_nm=1_500_000,
                accuracy_pct=Decimal(1), accuracy_nm=1_000,
            )  # fmt: skip
            # TG-09's calibration is about to run out.
            self.certify(
                f"RL-G{number + 21}",
                gauges=[identity],
                issued=300,
                expires=-24 if identity == "TG-09" else -65 - number,
            )
        self.gauge[plot.PROFILE_GAUGE] = instruments.register_gauge(
            tove,
            identity=plot.PROFILE_GAUGE,
            kind=Gauge.Kind.PROFILE,
            maker="",
            model="Depth micrometer",
            serial="3108",
        )
        self.certify("RL-P07", gauges=[plot.PROFILE_GAUGE], issued=210, expires=-155)
        self.gauge[plot.SALTS_KIT] = instruments.register_gauge(
            tove, identity=plot.SALTS_KIT, kind=Gauge.Kind.SALTS, maker="", model="Patches and conductivity meter",
            serial="552",
        )  # fmt: skip
        self.certify("RL-C03", gauges=[plot.SALTS_KIT], issued=200, expires=-165)
        film_tests.register(self)
        for letter, shims in plot.SHIM_SETS.items():
            for identity, (nominal, _, _) in shims.items():
                self.standard[identity] = instruments.register_standard(
                    tove, identity=identity, kind=ReferenceStandard.Kind.SHIM, nominal_nm=nominal * 1000
                )
            # Set A's certificate is about to expire, set B's is not.
            self.certify(f"RL-S{letter}08", shims=shims, issued=359, expires=-6 if letter == "A" else -150)
        self.standard["C-075"] = instruments.register_standard(
            tove, identity="C-075", kind=ReferenceStandard.Kind.COATED, nominal_nm=75_000
        )
        self.certify("RL-C02", shims={"C-075": (75, 74_600, 700)}, issued=375, expires=10)
        for holder, equipment in (("jonas", "A"), ("priya", "B")):
            for identity in plot.SHIM_SETS[equipment]:
                instruments.hand_over(tove, standard=self.standard[identity], to=self.person[holder])
        for holder, identity in (("jonas", "TG-05"), ("priya", "TG-07"), ("priya", "TG-09")):
            instruments.hand_over(tove, gauge=self.gauge[identity], to=self.person[holder])

    def certify(
        self,
        number: str,
        *,
        issued: int,
        expires: int,
        gauges: Sequence[str] = (),
        shims: Mapping[str, Shim] = NO_SHIMS,
    ) -> None:
        """Record a laboratory's certificate with its file; `issued` and `expires` count days back from the last day."""
        values = [StandardValue(self.standard[key], value, u) for key, (_, value, u) in shims.items()]
        paper = certificate_pdf(
            number, issued=self.day(issued), expires=self.day(expires), gauges=list(gauges),
            values=[(self.standard[key].identity, value, u) for key, (_, value, u) in shims.items()],
        )  # fmt: skip
        instruments.record_certificate(
            self.person["tove"], number=number, laboratory="Ravnsborg Length Laboratory", accreditation="RL-CAL 014",
            issued=self.day(issued), expires=self.day(expires), coverage_factor=Decimal(2),
            traceable_to="National length standard, by gauge blocks", gauges=[self.gauge[key] for key in gauges],
            values=values, file=UploadedContent(f"{number}.pdf", paper, "application/pdf"),
        )  # fmt: skip

    # --- 3 to 6: a shift ---------------------------------------------------------------------------------------------

    def yard_checks(self, days_ago: int) -> None:
        """Each gauge on the shims it is carried with, before there is anything to measure."""
        for minute, (gauge, (person, shims, project)) in enumerate(plot.IN_HAND.items()):
            self.verify(
                plot.Shift(days_ago, project, person, gauge, shims), Verification.Purpose.OPENING,
                self.moment(days_ago, f"09:{10 + 7 * minute}"), plot.gauge_on(gauge, days_ago),
            )  # fmt: skip

    def shift(self, shift: plot.Shift) -> None:
        gauge = plot.gauge_on(shift.gauge, shift.days_ago)
        self.verify(shift, Verification.Purpose.OPENING, self.moment(shift.days_ago, "08:05"), gauge)
        self.climate(shift, self.moment(shift.days_ago, "08:30"))
        for number, work in enumerate(shift.works):
            if work.steel:
                self.profile(shift, work, self.moment(shift.days_ago, f"08:{10 + 6 * number:02}"))
            self.measure(shift, work, self.moment(shift.days_ago, work.clock), gauge)
        self.climate(shift, self.moment(shift.days_ago, "13:00"))
        if shift.closing:
            with self.at(self.moment(shift.days_ago, "15:20")):
                instruments.report_incident(
                    self.person[shift.person], gauge=self.gauge[shift.gauge], at=timezone.now(),
                    what="Found knocked off the scaffold board; no visible damage",
                )  # fmt: skip
        self.verify(shift, Verification.Purpose.CLOSING, self.moment(shift.days_ago, "15:45"), shift.closing or gauge)

    def hand_of(self, shift: plot.Shift) -> Hand:
        return self.hand_in_yards if shift.project in yards.YARDS else self.hand

    def verify(self, shift: plot.Shift, purpose: str, moment: datetime, gauge: GaugeBehaviour) -> None:
        # Before work the gauge is zeroed and then checked; after work it is checked as it was found.
        opening = purpose == Verification.Purpose.OPENING
        with self.at(moment):
            points = [
                PointSent([self.standard[key]], self.hand_of(shift).on_shim(value, gauge))
                for key, (_, value, _) in plot.SHIM_SETS[shift.shims].items()
            ]
            instruments.record_verification(
                self.person[shift.person], id=new_id(), gauge=self.gauge[shift.gauge],
                project=self.project[shift.project], purpose=purpose,
                adjustment=Verification.Adjustment.ZERO if opening else Verification.Adjustment.NONE,
                surface=Verification.Surface.SMOOTH, as_left=opening, taken_at=moment, points=points,
            )  # fmt: skip

    def climate(self, shift: plot.Shift, moment: datetime) -> None:
        dry, wet, steel = self.hand_of(shift).climate(moment, mean_c=shift.mean_c, swing_c=3.5, dew_c=shift.dew_c)
        work = shift.works[0]
        with self.at(moment):
            fieldwork.record_climate(
                self.person[shift.person], id=new_id(), project=self.project[shift.project], area=self.area[work.area],
                coat=self.coat_on(work), taken_at=moment, dry_bulb_c=Decimal(str(dry)),
                wet_bulb_c=Decimal(str(wet)), surface_c=Decimal(str(steel)),
            )  # fmt: skip

    def profile(self, shift: plot.Shift, work: plot.Work, moment: datetime) -> None:
        """The blasted steel before its primer: how clean it is, and ten readings at each of three locations."""
        hand = self.hand_in_yards if shift.project in yards.YARDS else self.hand_on_steel
        with self.at(moment):
            self.seen(shift, work, moment)
            record_profile(
                self.person[shift.person], id=new_id(), project=self.project[shift.project], area=self.area[work.area],
                taken_at=moment, method="micrometer", location_value="mean", gauge=self.gauge[plot.PROFILE_GAUGE],
                locations=[LocationSent(heights) for heights in hand.on_steel(plot.PROFILE_UM, 3, 10)],
            )  # fmt: skip

    def seen(self, shift: plot.Shift, work: plot.Work, moment: datetime) -> None:
        """What is looked at and tested on the blasted steel beside its profile."""
        for name, values in plot.ON_STEEL.items():
            kind = BY_NAME[name]
            taken: Any = kind.taken
            since = {"blasted_at": moment - plot.SINCE_THE_BLAST} if name == "look" else {}
            taken.record(
                self.person[shift.person], id=new_id(), project=self.project[shift.project], area=self.area[work.area],
                taken_at=moment, gauge=self.gauge[plot.SALTS_KIT] if kind.instrument else None,
                **values, **since,
            )  # fmt: skip

    def measure(self, shift: plot.Shift, work: plot.Work, moment: datetime, gauge: GaugeBehaviour) -> None:
        """The film on the area, if it has one already."""
        coat, area, film = self.coat_on(work), self.area[work.area], work.film
        if film is None:
            return
        spots, per_spot = self.sampling(coat, area)
        readings = [
            ReadingSent(spot=spot, order=order, value_nm=value)
            for spot, values in enumerate(self.hand_of(shift).on_film(film, gauge, spots, per_spot), 1)
            for order, value in enumerate(values, 1)
        ]
        correction = round(film.profile_um * 1000)
        way = ThicknessRecord.ProfileWay.CORRECTION if correction else ThicknessRecord.ProfileWay.ADJUSTED
        ended = moment + timedelta(seconds=20 * len(readings))
        with self.at(ended + timedelta(minutes=2)):
            fieldwork.record_thickness(
                self.person[shift.person], id=new_id(), project=self.project[shift.project], area=area, coat=coat,
                gauge=self.gauge[shift.gauge], profile_way=way, correction_nm=correction, unit="um", readings=readings,
                first_reading_at=moment, last_reading_at=ended, source=ThicknessRecord.Source.FILE,
            )  # fmt: skip

    def coat_on(self, work: plot.Work) -> Coat:
        coat: Coat = self.area[work.area].system.coats.get(order=work.coat)
        return coat

    def sampling(self, coat: Coat, area: InspectionArea) -> tuple[int, int]:
        """How many spots, and readings in each, the coat's rule asks of the area."""
        area_m2 = float(area.area_m2)
        if coat.rule == Coat.Rule.PA2:
            return int(calculate("sampling-plan", {"standard": "SSPC-PA 2", "area_m2": area_m2})["spots"]), 3
        if coat.rule == Coat.Rule.ISO_19840:
            return int(
                calculate("sampling-plan", {"standard": "ISO 19840", "area_m2": area_m2})["readings_required"]
            ), 1
        declared = coat.declaration
        if declared:
            return declared.readings_asked(area.area_m2) or 1, 1
        # One reading for 5 m² of flat surface, and as many again along the boundaries.
        return 2 * round(area_m2 / 5 + 0.5), 1

    # --- 5, 7, 8: what follows on a shift ----------------------------------------------------------------------------

    def after(self, shift: plot.Shift) -> None:
        """The next working morning: repairs, the client's decisions, the report."""
        if shift.days_ago == 21:
            with self.at(self.moment(20, "14:00")):
                nonconformance.record_rework(
                    self.person["jonas"], nonconformance=Nonconformance.objects.get(state="open"),
                    what="Thin primer on LP-W: second full coat applied by airless spray to the whole area.",
                    done_by="Holt & Arran Painters, crew 2", done_at=self.moment(20, "13:15"),
                )  # fmt: skip
        if any(later.days_ago == shift.days_ago for later in plot.SHIFTS[plot.SHIFTS.index(shift) + 1 :]):
            return
        morning = shift.days_ago - 1
        if morning < 1:
            return
        with self.at(self.moment(morning, "08:50")):
            self.report(shift, self.day(shift.days_ago), issue=shift.days_ago > 4)
        if shift.days_ago == reporting.REVIEWED:
            reporting.answered(self, self.project[shift.project].dailyreports.get(day=self.day(shift.days_ago)))
        self.decide(shift, morning)
        if shift.days_ago == 15:
            self.late_climate(shift)

    def report(self, shift: plot.Shift, day: date, *, issue: bool, reason: str = "") -> None:
        job = reports.queue_report(self.person["tove"], project=self.project[shift.project], day=day)
        jobs.run(job.pk)
        if issue:
            report = self.project[shift.project].dailyreports.get(day=day)
            if shift.days_ago == reporting.REVIEWED:
                reporting.reviewed(self, report)
            reports.issue_report(self.person["tove"], report=report, reason=reason)

    def late_climate(self, shift: plot.Shift) -> None:
        """A forgotten climate record comes in after the report was issued: the report gets a second revision."""
        moment = self.moment(shift.days_ago, "10:40")
        with self.at(self.moment(shift.days_ago - 2, "07:40")):
            work = shift.works[1]
            fieldwork.record_climate(
                self.person[shift.person], id=new_id(), project=self.project[shift.project], area=self.area[work.area],
                coat=self.coat[shift.project, work.coat], taken_at=moment, dry_bulb_c=Decimal("15.8"),
                wet_bulb_c=Decimal("11.6"), surface_c=Decimal("15.1"), note="From the notebook, entered late",
            )  # fmt: skip
        with self.at(self.moment(shift.days_ago - 2, "09:10")):
            self.report(shift, self.day(shift.days_ago), issue=True, reason="A climate record of 10:40 came in late")

    def decide(self, shift: plot.Shift, morning: int) -> None:
        """The client releases what can be released, but refuses one finish for what they saw with their own eyes."""
        client = self.person[plot.DECIDES[shift.project]]
        clock = self.moment(morning, "10:00")
        areas = [self.area[work.area] for work in shift.works]
        for point in HoldPoint.objects.filter(area__in=areas, state=HoldPoint.State.WAITING):
            shown = evidence.evidence_of(point)
            if not (shown.releasable and queries.may_decide(client, point)) or shift.days_ago <= 3:
                continue
            clock += timedelta(minutes=4)
            reason = plot.REFUSALS.get((point.area.code, point.coat.order if point.coat else None))
            with self.at(clock):
                if reason:
                    holdpoints.refuse(
                        client, point=point, password=plot.PASSWORD, evidence_digest=shown.digest, reason=reason
                    )
                else:
                    holdpoints.release(
                        client, point=point, password=plot.PASSWORD, evidence_digest=shown.digest,
                        acceptance=plot.ACCEPTED if shown.to_accept else "",
                    )  # fmt: skip

    def today(self) -> None:
        """The open shift: verified, climate taken, one area measured, closing check still to come."""
        shift = plot.TODAY
        gauge = plot.gauge_on(shift.gauge, shift.days_ago)
        started = self.now - timedelta(minutes=115)
        self.verify(shift, Verification.Purpose.OPENING, started, gauge)
        self.climate(shift, started + timedelta(minutes=12))
        self.measure(shift, shift.works[0], started + timedelta(minutes=40), gauge)
