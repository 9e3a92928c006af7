"""Instruments that measure no coating, checked on site: on a solution, a voltmeter, zero and foil; what rests on it."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
import time_machine

from accounts.models import JournalEntry
from inspection.fieldwork.highvoltage.recording import HIGH_VOLTAGE
from inspection.fieldwork.salts.kind import DECLARED as SALTS
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.instruments import actions
from inspection.instruments.actions import PointSent, StandardValue
from inspection.instruments.models import Certificate, Gauge, ReferenceStandard, Verification
from inspection.recall.actions import recall, reinstate
from inspection.recall.foreseen import touched_by
from inspection.standing.actions import sweep_due
from inspection.standing.models import Standing
from inspection.trace.kinds import kind_named
from inspection.trace.queries import rests_on_it
from reports.verify.records import differences
from tests.cast import DAY, Cast
from tests.fieldwork.samples import SAMPLES
from tests.standing.scene import clock

ISSUED, EXPIRES = date(2026, 1, 1), date(2026, 12, 31)
DAWN = datetime.combine(DAY, datetime.min.time(), tzinfo=clock("05:00").tzinfo) + timedelta(hours=5)


def paper(cast: Cast, number: str, **covers: Any) -> Certificate:
    return actions.record_certificate(
        cast.quinn, number=number, laboratory="Laboratory", issued=ISSUED, expires=EXPIRES,
        traceable_to="the national institute", **covers,
    )  # fmt: skip


@pytest.fixture
def meter(cast: Cast) -> Gauge:
    """A conductivity meter, checked on site before and after work."""
    with time_machine.travel(DAWN, tick=False):
        gauge = actions.register_gauge(cast.quinn, identity="CM-1", kind="salts", checked_on_site=True)
        paper(cast, "P-CM-1", gauges=[gauge])
    return gauge


@pytest.fixture
def solution(cast: Cast) -> ReferenceStandard:
    """84 µS/cm at 25 °C, as potassium chloride standards are sold (instrument handbook, stored source)."""
    with time_machine.travel(DAWN, tick=False):
        bottle = actions.register_standard(cast.quinn, identity="KCL-84", kind="solution", nominal=Decimal(84))
        paper(cast, "LOT-7", values=[StandardValue(bottle, value=Decimal(84), expanded_uncertainty=Decimal("0.8"))])
    return bottle


def check(cast: Cast, at: str, gauge: Gauge, *points: PointSent, **more: Any) -> Verification:
    with time_machine.travel(clock(at) + timedelta(minutes=1), tick=False):
        return actions.record_verification(
            cast.ines, id=new_id(), gauge=gauge, project=cast.site.project, taken_at=clock(at), points=list(points),
            **{"purpose": "opening", "as_left": False, **more},
        )[0]  # fmt: skip


def on(standard: ReferenceStandard, *readings: float, reference: float | None = None) -> PointSent:
    shown = None if reference is None else Decimal(str(reference))
    return PointSent([standard], readings=[Decimal(str(reading)) for reading in readings], reference=shown)


def salts(cast: Cast, at: str, gauge: Gauge) -> Any:
    with time_machine.travel(clock(at) + timedelta(minutes=1), tick=False):
        return SALTS.record(
            cast.ines, id=new_id(), project=cast.site.project, area=cast.site.area, coat=None, taken_at=clock(at),
            gauge=gauge, source="api", **SAMPLES["salts"],
        )[0]  # fmt: skip


def standing(record: Any) -> tuple[str, str]:
    found = Standing.objects.get(record=record)
    return found.state, " ".join(found.reasons)


# --- the check itself -------------------------------------------------------------------------------------------------
def test_a_meter_is_held_to_five_percent_of_its_solution(cast: Cast, meter: Gauge, solution: ReferenceStandard) -> None:
    # ±5 % of 84 is 4.2: the bound itself passes (common practice, no source).
    passed = check(cast, "07:00", meter, on(solution, 88.2))
    assert (passed.verdict, passed.result["points"][0]["tolerance"], passed.verified_to_nm) == ("pass", 4.2, None)
    failed = check(cast, "07:10", meter, on(solution, 88.3))
    assert failed.verdict == "fail"
    told = JournalEntry.objects.filter(verb="verification.recorded").latest("pk").after
    assert told["tolerance_pct"] == 5
    with time_machine.travel(DAWN, tick=False):
        own = actions.correct_equipment(
            cast.quinn, thing=meter, check_tolerance_pct=Decimal(6), reason="The contract allows 6 %"
        )
    assert isinstance(own, Gauge)
    assert check(cast, "07:20", own, on(solution, 88.3)).verdict == "pass"
    assert not [said for said in differences() if "check" in said]


def test_what_a_check_cannot_be_made_of_is_refused_with_its_point(
    cast: Cast, meter: Gauge, solution: ReferenceStandard
) -> None:
    shim = cast.shims[50]
    wrong = [
        (PointSent([shim], readings_nm=[50_000]), "standard solution, and on nothing else"),
        (PointSent([solution], readings_nm=[84_000]), "Give its readings in µS/cm"),
        (on(solution, 84, reference=84), "give no reference"),
        (on(solution), "Give 1 to"),
        (on(solution, 84.00001), "decimals"),
    ]
    for point, said in wrong:
        with pytest.raises(Refused, match=said) as refused:
            check(cast, "07:00", meter, point)
        assert {(fault.field, fault.row) for fault in refused.value.faults} == {("points", 1)}
    hardness = actions.register_gauge(cast.quinn, identity="HT-1", kind="hardness")
    with pytest.raises(Refused, match="has no check"):
        check(cast, "07:00", hardness, on(solution, 84))
    tester = actions.register_gauge(cast.quinn, identity="AD-1", kind="adhesion")
    with pytest.raises(Refused, match="nobody has said within what it is to agree"):
        check(cast, "07:00", tester, on(solution, 84))
    with pytest.raises(Refused, match="coating thickness gauge is checked on a shim"):
        check(cast, "07:00", cast.gauge, on(solution, 84))
    assert not Verification.objects.filter(gauge=meter).exists()


def test_a_detector_is_checked_against_what_a_voltmeter_in_date_shows(cast: Cast) -> None:
    with time_machine.travel(DAWN, tick=False):
        detector = actions.register_gauge(cast.quinn, identity="HD-1", kind="holiday", checked_on_site=True)
        paper(cast, "P-HD-1", gauges=[detector])
        voltmeter = actions.register_standard(cast.quinn, identity="VM-1", kind="instrument")
    with pytest.raises(Refused, match="VM-1: it has no certificate"):
        check(cast, "07:00", detector, on(voltmeter, 9600, reference=9500))
    with time_machine.travel(DAWN, tick=False):
        certificate = paper(cast, "P-VM-1", values=[StandardValue(voltmeter)])
    with pytest.raises(Refused, match="what the reference instrument showed"):
        check(cast, "07:00", detector, on(voltmeter, 9600))
    # ±5 % of 9500 V is 475 V (from memory).
    assert check(cast, "07:00", detector, on(voltmeter, 9976, reference=9500)).verdict == "fail"
    assert check(cast, "07:30", detector, on(voltmeter, 9600, reference=9500)).verdict == "pass"
    with time_machine.travel(clock("10:00"), tick=False):
        record, _ = HIGH_VOLTAGE.record(
            cast.ines, id=new_id(), project=cast.site.project, area=cast.site.area, coat=cast.site.coats[0],
            taken_at=clock("09:00"), gauge=detector, standard="NACE SP0274", dry_film_um=1500, voltage_v=9600,
            tested_m2=5,
        )  # fmt: skip
    check(cast, "15:00", detector, on(voltmeter, 9600, reference=9500), purpose="closing")
    assert standing(record) == ("sound", "")
    recall(cast.quinn, certificate=certificate, reason="It was dropped")
    assert standing(record)[0] == "in_question"
    assert "VM-1: certificate P-VM-1 was withdrawn" in standing(record)[1]


def test_a_micrometer_wants_zero_and_a_foil_and_is_held_to_its_stated_accuracy(cast: Cast) -> None:
    with time_machine.travel(DAWN, tick=False):
        micrometer = actions.register_gauge(
            cast.quinn, identity="PM-1", kind="profile", accuracy_pct=Decimal(0), accuracy_nm=3_000,
            checked_on_site=True,
        )  # fmt: skip
        glass = actions.register_standard(cast.quinn, identity="GLASS-1", kind="zero", nominal_nm=0)
        paper(cast, "P-PM-1", gauges=[micrometer], values=[StandardValue(glass, 0, 0)])
    zero, foil = PointSent([glass], [500, 0, 1_000]), PointSent([cast.shims[50]], [52_000, 53_000, 52_500])
    with pytest.raises(Refused, match="wants a point on a zero plate too"):
        check(cast, "07:00", micrometer, foil)
    assert check(cast, "07:00", micrometer, zero, foil).verdict == "pass"
    off = PointSent([cast.shims[50]], [60_000, 60_000, 60_000])
    assert check(cast, "07:30", micrometer, zero, off).verdict == "fail"
    with pytest.raises(Refused, match="stated accuracy; give it"):
        actions.register_gauge(cast.quinn, identity="PM-2", kind="profile", checked_on_site=True)


# --- what rests on it -------------------------------------------------------------------------------------------------
def test_salts_rest_on_the_checks_of_their_meter_before_and_after(
    cast: Cast, meter: Gauge, solution: ReferenceStandard
) -> None:
    record = salts(cast, "09:00", meter)
    assert standing(record)[0] == "in_question"
    assert "not checked in this shift before" in standing(record)[1]
    opening = check(cast, "07:00", meter, on(solution, 84))
    assert standing(record)[0] == "provisional"
    failed = check(cast, "15:00", meter, on(solution, 90), purpose="closing")
    assert standing(record)[0] == "in_question"
    assert "all that was measured since the last passing check is suspect" in standing(record)[1]
    # Typed wrong: corrected by a version that names it, the record stands.
    check(cast, "15:00", meter, on(solution, 84.5), purpose="closing", replaces=failed, replacement_reason="84.5 read")
    assert standing(record) == ("sound", "")
    assert Standing.objects.get(record=record).opening == opening
    # What was measured afterwards awaits a check of its own, and lacks it once the shift has ended.
    later = salts(cast, "16:00", meter)
    assert standing(later)[0] == "provisional"
    sweep_due(clock("23:59") + timedelta(hours=24))
    assert "no check after work" in standing(later)[1]


def test_recall_of_a_solution_reaches_the_records_and_is_taken_back(
    cast: Cast, meter: Gauge, solution: ReferenceStandard
) -> None:
    for at in ("07:00", "15:00"):
        check(cast, at, meter, on(solution, 87), purpose="opening" if at < "12" else "closing")
    record = salts(cast, "09:00", meter)
    lot = Certificate.objects.get(number="LOT-7")
    touched = touched_by(lot, cast.quinn)
    assert (touched.verifications, touched.records) == (2, 1)
    kind = kind_named("standard")
    assert kind
    above = {layer.kind.name: layer.total for layer in rests_on_it(solution, kind, cast.quinn)}
    assert above == {"verification": 2, "salts": 1, "area": 1}, "and no thickness, which rests on other checks"
    recall(cast.quinn, certificate=lot, reason="The maker called the lot back")
    assert "KCL-84: certificate LOT-7 was withdrawn" in standing(record)[1]
    lot.refresh_from_db()
    reinstate(cast.quinn, certificate=lot, reason="Another lot was meant")
    assert standing(record) == ("sound", "")
    # 87 lies within 5 % of 84, and not of 82.
    corrected = [StandardValue(solution, value=Decimal(82), expanded_uncertainty=Decimal("0.8"))]
    assert touched_by(lot, cast.quinn, corrected).records == 1
    lot.refresh_from_db()
    recall(cast.quinn, certificate=lot, reason="Misprint", corrected=corrected)
    assert standing(record)[0] == "in_question"
    assert "does not pass with the corrected values of certificate LOT-7 v2" in standing(record)[1]
    assert not [said for said in differences() if "LOT-7" in said]


def test_checks_are_asked_from_a_moment_on_and_no_longer_with_a_reason(
    cast: Cast, meter: Gauge, solution: ReferenceStandard
) -> None:
    early, late = salts(cast, "08:00", meter), salts(cast, "12:00", meter)
    with time_machine.travel(clock("13:00"), tick=False):
        with pytest.raises(NotAllowed):
            actions.ask_for_checks(cast.ines, gauge=meter, since=clock("10:00"), reason="From the break on")
        asked = actions.ask_for_checks(cast.quinn, gauge=meter, since=clock("10:00"), reason="From the break on")
        with pytest.raises(Conflict):
            actions.ask_for_checks(cast.quinn, gauge=asked, since=clock("10:00"), reason="Again")
        assert (standing(early)[0], standing(late)[0]) == ("sound", "in_question")
        actions.ask_for_checks(cast.quinn, gauge=asked, since=None, reason="It is a kit without a meter")
    assert (standing(early)[0], standing(late)[0]) == ("sound", "sound")
    assert JournalEntry.objects.get(verb="gauge.checks_not_asked").reason == "It is a kit without a meter"
    # Nobody asks for a check now; one that fails is heard all the same, for what was measured since the last.
    check(cast, "10:00", meter, on(solution, 84))
    check(cast, "14:00", meter, on(solution, 95), purpose="suspicion")
    assert (standing(early)[0], standing(late)[0]) == ("sound", "in_question")
    assert "failed: what was measured since the last passing one" in standing(late)[1]
    with pytest.raises(Refused, match="always is checked"):
        actions.ask_for_checks(cast.quinn, gauge=cast.gauge, since=clock("10:00"), reason="So be it")
