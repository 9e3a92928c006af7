"""A check of a gauge: judged against the combined tolerance, stored once, refused where nothing can be relied on."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.db import DatabaseError, connection, transaction
from django.http import Http404

from accounts.models import JournalEntry
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.instruments import actions, overdue, registers
from inspection.instruments.actions import PointSent, StandardValue
from inspection.instruments.models import Certificate, Equipment, Verification
from inspection.instruments.signals import evidence_changed
from inspection.standards import calculate
from tests.cast import MORNING, Cast
from tests.past_triggers import rewrite


def sent(cast: Cast, **changed: Any) -> dict[str, Any]:
    """An opening check on two shims that passes."""
    return {
        "id": uuid4(), "gauge": cast.gauge, "project": cast.site.project, "purpose": "opening", "surface": "smooth",
        "adjustment": "two-point", "as_left": True, "taken_at": MORNING,
        "points": [
            PointSent([cast.shims[50]], [50_100, 50_300, 49_900]),
            PointSent([cast.shims[250]], [250_100, 249_900, 250_300]),
        ],
    } | changed  # fmt: skip


def test_a_passing_check_verifies_the_range_of_its_shims(cast: Cast) -> None:
    verification, new = actions.record_verification(cast.ines, **sent(cast))
    assert (new, verification.verdict) == (True, "pass")
    assert (verification.verified_from_nm, verification.verified_to_nm) == (50_200, 249_800)
    point = verification.points.get(order=1)
    assert (point.certified_nm, point.expanded_uncertainty_nm) == (50_200, 1_000)
    assert point.uses.get().certified_value.certificate == cast.shim_certificate


@pytest.mark.parametrize("adjustment", ["zero", "one-point", "two-point"])
def test_readings_as_found_with_an_adjustment_are_refused(cast: Cast, adjustment: str) -> None:
    with pytest.raises(Refused) as refusal:
        actions.record_verification(cast.ines, **sent(cast, as_left=False, adjustment=adjustment))
    assert [fault.field for fault in refusal.value.faults] == ["adjustment"]
    assert "come before any adjusting" in refusal.value.faults[0].message
    assert not Verification.objects.exists()
    assert actions.record_verification(cast.ines, **sent(cast, as_left=False, adjustment="none"))[1]


def test_the_combined_tolerance_decides(cast: Cast) -> None:
    """Gauge ± 1 % ± 1 µm on 50.2 µm is 1.502 µm; with the shim's 1.0 µm in squares 1.804 µm (computed by hand)."""
    for reading, verdict in ((52_004, "pass"), (52_005, "fail"), (48_396, "pass"), (48_395, "fail")):
        points = [PointSent([cast.shims[50]], [reading])]
        verification, _ = actions.record_verification(cast.ines, **sent(cast, points=points))
        assert (verification.verdict, reading) == (verdict, reading)
        assert verification.result["points"][0]["tolerance_um"] == pytest.approx(1.8044, abs=1e-4)


def test_a_failed_check_verifies_no_range_and_can_be_recomputed(cast: Cast) -> None:
    points = [PointSent([cast.shims[50]], [60_000]), PointSent([cast.shims[250]], [250_000])]
    verification, _ = actions.record_verification(cast.ines, **sent(cast, points=points))
    assert (verification.verdict, verification.verified_from_nm, verification.verified_to_nm) == ("fail", None, None)
    assert calculate("verify-gauge", verification.inputs) == verification.result


def test_a_stack_adds_thicknesses_and_squares_of_uncertainties(cast: Cast) -> None:
    points = [PointSent([cast.shims[250], cast.shims[50]], [300_500, 300_100])]
    verification, _ = actions.record_verification(cast.ines, **sent(cast, points=points))
    point = verification.points.get()
    assert (point.certified_nm, point.expanded_uncertainty_nm, point.uses.count()) == (300_000, 1_414, 2)


def test_shims_certified_at_different_coverage_factors_speak_at_the_smallest(cast: Cast) -> None:
    rewrite(Certificate.objects.filter(pk=cast.shim_certificate.pk), coverage_factor=Decimal(3))
    paper = {"issued": date(2026, 1, 1), "expires": date(2027, 1, 1), "laboratory": "L", "traceable_to": "N"}
    actions.record_certificate(
        cast.quinn, number="CS-9", **paper, values=[StandardValue(cast.shims[50], 50_000, 1_000)]
    )
    points = [PointSent([cast.shims[250], cast.shims[50]], [299_800])]
    verification, _ = actions.record_verification(cast.ines, **sent(cast, points=points))
    given = verification.inputs["points"][0]
    assert given["coverage_factor"] == 2
    assert given["expanded_uncertainty_um"] == [pytest.approx(1 * 2 / 3), 1]


def test_a_gauge_may_show_less_than_nothing_on_a_zero_plate(cast: Cast) -> None:
    plate = actions.register_standard(cast.quinn, identity="Z-1", kind="zero", nominal_nm=0)
    paper = {"issued": date(2026, 1, 1), "expires": date(2027, 1, 1), "laboratory": "L", "traceable_to": "N"}
    actions.record_certificate(cast.quinn, number="CZ-1", **paper, values=[StandardValue(plate, 0, 0)])
    points = [PointSent([plate], [-300, 200, -100]), PointSent([cast.shims[50]], [50_000])]
    verification, _ = actions.record_verification(cast.ines, **sent(cast, points=points))
    assert (verification.verdict, verification.verified_from_nm) == ("pass", 0)


def test_a_resent_check_is_stored_once(cast: Cast) -> None:
    content = sent(cast)
    first, _ = actions.record_verification(cast.ines, **content)
    again, new = actions.record_verification(cast.ines, **content)
    assert (again, new, Verification.objects.count()) == (first, False, 1)
    assert JournalEntry.objects.filter(verb="verification.recorded").count() == 1


def test_another_check_under_a_used_id_is_a_conflict(cast: Cast) -> None:
    content = sent(cast)
    actions.record_verification(cast.ines, **content)
    with pytest.raises(Conflict, match="id of its own"):
        actions.record_verification(cast.ines, **content | {"purpose": "closing"})
    assert Verification.objects.get().purpose == "opening"


def refusal_of(cast: Cast, **changed: Any) -> list[tuple[str, int | None, str]]:
    with pytest.raises(Refused) as refusal:
        actions.record_verification(cast.ines, **sent(cast, **changed))
    assert not Verification.objects.exists()
    return [(fault.field, fault.row, fault.message) for fault in refusal.value.faults]


def test_an_expired_certificate_is_refused_with_the_reason(cast: Cast) -> None:
    rewrite(Certificate.objects.filter(pk=cast.shim_certificate.pk), expires=date(2026, 3, 3))
    assert refusal_of(cast) == [
        ("points", 1, "S-50: certificate CS-1 expired on 2026-03-03."),
        ("points", 2, "S-250: certificate CS-1 expired on 2026-03-03."),
    ]


def test_a_certificate_counts_to_the_end_of_its_last_day_of_the_project(cast: Cast) -> None:
    rewrite(Certificate.objects.filter(pk=cast.shim_certificate.pk), expires=date(2026, 3, 4))
    night = datetime.fromisoformat("2026-03-05T02:00:00+00:00")  # the shift that began on the 4th
    verification, _ = actions.record_verification(cast.ines, **sent(cast, taken_at=night))
    assert verification.verdict == "pass"


def test_a_withdrawn_certificate_of_the_gauge_is_refused_with_the_reason(cast: Cast) -> None:
    actions.withdraw_certificate(
        cast.quinn, certificate=cast.gauge_certificate, reason="Reference was wrong", at=MORNING
    )
    assert refusal_of(cast) == [
        ("gauge", None, "G-01: certificate CG-1 was withdrawn on 2026-03-04: Reference was wrong.")
    ]


def test_a_check_made_before_a_certificate_was_withdrawn_is_kept_when_it_comes_later_and_says_so(cast: Cast) -> None:
    """As one that was stored before the withdrawal: what a phone without a signal made in good faith is evidence."""
    later = MORNING + timedelta(hours=1)
    for paper in (cast.gauge_certificate, cast.shim_certificate):
        actions.withdraw_certificate(cast.quinn, certificate=paper, reason="Reference was wrong", at=later)
    why = "was withdrawn on 2026-03-04: Reference was wrong."
    assert refusal_of(cast, taken_at=later)[0] == ("gauge", None, f"G-01: certificate CG-1 {why}")
    check, _ = actions.record_verification(cast.ines, **sent(cast))
    assert check.verdict == "pass"
    told = overdue.withdrawn_since(registers.with_points(Verification.objects.all()).get())
    assert told[0] == f"G-01: certificate CG-1 {why}"
    assert {words.partition(": ")[2] for words in told[1:]} == {f"certificate CS-1 {why}"}


def test_a_chain_with_a_withdrawn_certificate_is_broken(cast: Cast) -> None:
    master = Certificate.objects.create(
        number="M-1", laboratory="L", traceable_to="N", issued=date(2024, 1, 1), expires=date(2029, 1, 1),
        recorded_by=cast.quinn,
    )  # fmt: skip
    rewrite(Certificate.objects.filter(pk=cast.gauge_certificate.pk), parent=master)
    actions.withdraw_certificate(cast.quinn, certificate=master, reason="Block worn", at=MORNING)
    assert refusal_of(cast) == [("gauge", None, "G-01: certificate CG-1 is traceable to M-1, which was withdrawn.")]


def test_a_thing_without_a_certificate_is_refused(cast: Cast) -> None:
    bare = actions.register_standard(cast.quinn, identity="S-75", nominal_nm=75_000)
    assert refusal_of(cast, points=[PointSent([bare], [75_000])]) == [("points", 1, "S-75: it has no certificate.")]


@pytest.mark.parametrize("state", ["quarantined", "retired", "at_laboratory"])
def test_a_gauge_out_of_use_is_refused(cast: Cast, state: str) -> None:
    cast.gauge.state, cast.gauge.state_since = state, MORNING - timedelta(hours=1)
    cast.gauge.save()
    assert refusal_of(cast)[0][2].startswith("G-01 is ")


def test_a_quarantined_gauge_may_be_checked_on_suspicion(cast: Cast) -> None:
    cast.gauge.state, cast.gauge.state_since = Equipment.State.QUARANTINED, MORNING - timedelta(hours=1)
    cast.gauge.save()
    assert actions.record_verification(cast.ines, **sent(cast, purpose="suspicion"))[1]


def test_a_check_made_before_the_quarantine_is_taken_when_it_arrives_later(cast: Cast) -> None:
    cast.gauge.state, cast.gauge.state_since = Equipment.State.QUARANTINED, MORNING + timedelta(hours=1)
    cast.gauge.save()
    assert actions.record_verification(cast.ines, **sent(cast))[1]


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"points": []}, "1 to 20 points"),
        ({"taken_at": datetime.fromisoformat("2126-03-04T07:00:00+00:00")}, "lies in the future"),
        ({"taken_at": datetime.fromisoformat("1996-03-04T07:00:00+00:00")}, "too long ago"),
        ({"purpose": "curiosity"}, "not a valid choice"),
    ],
)
def test_a_check_that_cannot_be_is_refused(cast: Cast, changed: dict, words: str) -> None:
    assert words in refusal_of(cast, **changed)[0][2]


def test_faults_of_a_point_name_it(cast: Cast) -> None:
    points = [
        PointSent([cast.shims[50]], []),
        PointSent([], [50_000]),
        PointSent([cast.shims[50], cast.shims[50]], [100_000]),
        PointSent([cast.shims[50]], [200_000_000]),
    ]
    assert [(row, message) for _, row, message in refusal_of(cast, points=points)] == [
        (1, "Give 1 to 100 readings."),
        (2, "Name 1 to 5 standards."),
        (3, "A standard lies in a stack only once."),
        (4, "A reading is at most 100 mm; check the unit."),
    ]


def test_a_stack_beyond_the_range_of_the_gauge_says_nothing_of_it(cast: Cast) -> None:
    type(cast.gauge).objects.filter(pk=cast.gauge.pk).update(range_to_nm=200_000)
    cast.gauge.refresh_from_db()
    assert refusal_of(cast)[0] == (
        "points", 2, "249.8 µm lies beyond the range of G-01, which ends at 200.0 µm.",
    )  # fmt: skip


def test_a_check_is_told_to_whom_it_matters(cast: Cast) -> None:
    heard: list[dict[str, Any]] = []

    def listen(**said: Any) -> None:
        heard.append(said)

    evidence_changed.connect(listen)
    try:
        actions.record_verification(cast.ines, **sent(cast))
    finally:
        evidence_changed.disconnect(listen)
    assert heard[0]["gauges"] == [cast.gauge.pk]
    assert heard[0]["since"] <= cast.site.project.shift_of(MORNING)[0]


@pytest.mark.parametrize("change", ["update", "delete"])
def test_the_database_refuses_to_change_a_check(cast: Cast, change: str) -> None:
    verification, _ = actions.record_verification(cast.ines, **sent(cast))
    rows = Verification.objects.filter(pk=verification.pk)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        rows.update(verdict="fail") if change == "update" else rows.order_by()._raw_delete("default")


def test_a_stranger_records_nothing(cast: Cast) -> None:
    for someone in (cast.clara, cast.audrey, cast.admin):
        with pytest.raises(NotAllowed):
            actions.record_verification(someone, **sent(cast))
    with pytest.raises(Http404):
        actions.record_verification(cast.igor, **sent(cast))


@pytest.fixture
def parallel(transactional_db: None) -> Iterator[ThreadPoolExecutor]:
    with ThreadPoolExecutor(4) as pool:
        yield pool


@pytest.mark.postgresql
def test_the_same_check_sent_four_times_at_once_is_stored_once(parallel: ThreadPoolExecutor) -> None:
    from tests import cast as casting

    cast = casting.cast()
    content = sent(cast)

    def send(_: int) -> tuple[UUID, bool]:
        try:
            verification, new = actions.record_verification(cast.ines, **content)
            return verification.pk, new
        finally:
            connection.close()

    answers = list(parallel.map(send, range(4)))
    assert sorted(new for _, new in answers) == [False, False, False, True]
    assert {pk for pk, _ in answers} == {content["id"]}
    assert Verification.objects.get().points.count() == 2
