"""What is tested of the finished film in the story: holidays, adhesion, cure, what was seen; and its rework."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from inspection.fieldwork.cautions import confirm_cautions
from inspection.fieldwork.cure.recording import CURE
from inspection.fieldwork.cuttest.recording import CUT_TEST
from inspection.fieldwork.defects.recording import DEFECTS
from inspection.fieldwork.highvoltage.recording import HIGH_VOLTAGE
from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.pulloff.recording import PULL_OFF
from inspection.fieldwork.tested import AsTested
from inspection.fieldwork.wetsponge.recording import WET_SPONGE
from inspection.foundation.ids import new_id
from inspection.instruments import actions as instruments
from inspection.instruments.models import Gauge, ReferenceStandard, Verification
from inspection.nonconformance import actions as nonconformance
from inspection.nonconformance.models import ReworkItem

if TYPE_CHECKING:
    from reports.demo.story import Story

ADHESION_TESTER, DETECTOR, VOLTMETER = "AD-01", "HD-01", "VM-01"
DAYS_AGO, OF_DEFECTS = 2, 6
CONTRACT: dict[str, Any] = {
    "method": "ISO 16276-1", "tests_wanted": 3, "minimum_mean_mpa": 6, "minimum_single_mpa": 5,
    "greatest_glue_share_pct": 25, "contract_instrument": "hydraulic, 20 mm", "used_instrument": "hydraulic, 20 mm",
    "dolly_mm": 20, "steel_mm": 14, "film_cut": True, "glue": "two-component epoxy", "glue_cured_h": 24,
}  # fmt: skip


def register(story: Story) -> None:
    """A pull-off tester and a holiday detector, each with its certificate, and the voltmeter it is checked on."""
    for identity, kind, model, paper in (
        (ADHESION_TESTER, Gauge.Kind.ADHESION, "Hydraulic pull-off tester", "RL-A11"),
        (DETECTOR, Gauge.Kind.HOLIDAY, "Holiday detector", "RL-H04"),
    ):
        story.gauge[identity] = instruments.register_gauge(
            story.person["tove"], identity=identity, kind=kind, maker="", model=model, serial=f"{identity[-2:]}27",
            checked_on_site=identity == DETECTOR,
        )  # fmt: skip
        story.certify(paper, gauges=[identity], issued=150, expires=-215)
    story.standard[VOLTMETER] = instruments.register_standard(
        story.person["tove"], identity=VOLTMETER, kind=ReferenceStandard.Kind.INSTRUMENT, model="Voltmeter for pulses"
    )
    instruments.record_certificate(
        story.person["tove"], number="RL-V02", laboratory="Ravnsborg Length Laboratory", accreditation="RL-CAL 014",
        issued=story.day(150), expires=story.day(-215), traceable_to="National voltage standard",
        values=[instruments.StandardValue(story.standard[VOLTMETER])],
    )  # fmt: skip


def play(story: Story) -> None:
    """The finished deck is tested two days before the end; what the tests leave is put right and looked at."""
    _test(
        story, DEFECTS, OF_DEFECTS, "15:05", "LP-E",
        defects=[{"kind": "sags", "extent": "4", "place": "beam 4, lower flange", "acceptable": False}],
    )  # fmt: skip
    _test(story, DEFECTS, DAYS_AGO, "08:30", "D-1", defects=[])
    _test(story, CURE, DAYS_AGO, "08:50", "D-1", method="ASTM D5402", solvent="MEK", double_rubs=50,
          agreed_double_rubs=50, agreed_result="no colour on the cloth", cured_h=120,
          places=[{"place": "north edge", "as_agreed": True},
                  {"place": "by bollard 2", "as_agreed": True}])  # fmt: skip
    _test(story, CUT_TEST, DAYS_AGO, "09:10", "D-1", scale="ISO 16276-2 X-cut", edition="2007", worst_rating="1",
          dry_film_um=335, cuts=[{"place": "north edge, frame 3", "rating": "0"}])  # fmt: skip
    _test(story, PULL_OFF, DAYS_AGO, "09:40", "D-1", gauge=ADHESION_TESTER, **CONTRACT, tests=[
        {"place": "by bollard 1", "strength_mpa": 9.4, "failures_pct": {"C": 80, "B/C": 20}},
        {"place": "by bollard 2", "strength_mpa": 8.7, "failures_pct": {"C": 90, "Y": 10}},
        {"place": "south edge, frame 9", "strength_mpa": 10.1, "failures_pct": {"C": 100}},
    ])  # fmt: skip
    _check_detector(story, "10:15", Verification.Purpose.OPENING)
    _test(story, WET_SPONGE, DAYS_AGO, "10:30", "D-1", gauge=DETECTOR, standard="ASTM D5162", dry_film_um=335,
          voltage_v=67.5, wetting_agent=True, earth_proven=True, tested_m2=20, most_per_m2=0.1,
          holidays=[{"place": "frame 6, weld of the lifting lug", "seen": "pinhole"}])  # fmt: skip
    moment = story.moment(DAYS_AGO, "11:20")
    with story.at(moment):
        confirm_cautions(story.person["jonas"], project=story.project["platform"], kind=BY_NAME["highvoltage"])
    _test(story, HIGH_VOLTAGE, DAYS_AGO, "11:30", "D-1", gauge=DETECTOR, standard="ASTM G62", dry_film_um=335,
          thinnest_film_um=290, dielectric_strength_kv_per_mm=20, voltage_v=1900, voltmeter_v=1890, cured_h=120,
          electrode="wire brush", earth_proven=True, tested_m2=2)  # fmt: skip
    _check_detector(story, "12:05", Verification.Purpose.CLOSING)
    _put_right(story)


def _check_detector(story: Story, clock: str, purpose: Verification.Purpose) -> None:
    """At the voltages of both tests, as it was found: what the voltmeter showed, and what the detector was set to."""
    moment = story.moment(DAYS_AGO, clock)
    with story.at(moment):
        instruments.record_verification(
            story.person["jonas"], id=new_id(), gauge=story.gauge[DETECTOR], project=story.project["platform"],
            purpose=purpose, as_left=False, taken_at=moment,
            points=[
                instruments.PointSent(
                    [story.standard[VOLTMETER]], readings=[Decimal(set_to)], reference=Decimal(shown)
                )
                for shown, set_to in (("66.9", "67.5"), ("1890", "1900"))
            ],
        )  # fmt: skip


def _test(
    story: Story, kind: AsTested, days_ago: int, clock: str, area: str, gauge: str = "", **observed: Any
) -> None:  # fmt: skip
    moment = story.moment(days_ago, clock)
    with story.at(moment):
        kind.record(
            story.person["jonas"], id=new_id(), project=story.project["platform"], area=story.area[area],
            coat=story.coat["platform", 3], taken_at=moment, gauge=story.gauge.get(gauge), **observed,
        )  # fmt: skip


def _put_right(story: Story) -> None:
    """Done by the crew the same afternoon; all but the last looked at by the other inspector the next day."""
    items = list(ReworkItem.objects.filter(area=story.area["D-1"]).order_by("opened_at", "pk"))
    done = story.moment(DAYS_AGO, "15:30")
    for number, item in enumerate(items):
        with story.at(done + timedelta(minutes=number)):
            nonconformance.mark_done(
                story.person["jonas"], item=item, what="Abraded, primed and built up with the brush",
                done_by="Holt & Arran Painters, crew 2", done_at=done - timedelta(minutes=20),
            )  # fmt: skip
    for number, item in enumerate(items[:-1]):
        with story.at(story.moment(DAYS_AGO - 1, "08:20") + timedelta(minutes=number)):
            nonconformance.look_at(story.person["priya"], item=item, in_order=True)
