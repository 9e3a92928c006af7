"""Registering gauges and standards, handing them over, their state, and what befalls them."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from accounts.models import JournalEntry
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.instruments import actions
from inspection.instruments.models import Custody, Gauge
from inspection.instruments.signals import evidence_changed
from tests.cast import Cast

STATED = {"range_from_nm": 0, "range_to_nm": 2_000_000, "accuracy_pct": Decimal("1.5"), "accuracy_nm": 2_000}


def test_a_registered_gauge_keeps_its_stated_accuracy(cast: Cast) -> None:
    gauge = actions.register_gauge(cast.quinn, identity=" G-02 ", kind="thickness", **STATED)
    stored = Gauge.objects.get(identity="G-02")
    assert (stored.accuracy_pct, stored.accuracy_nm, stored.state) == (Decimal("1.5"), 2_000, "in_service")
    assert JournalEntry.objects.get(verb="gauge.registered").object_id == str(gauge.pk)


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"identity": "g-01"}, "identity", "g-01 is already registered; give each thing its own number."),
        ({"identity": "S-50"}, "identity", "S-50 is already registered; give each thing its own number."),
        ({"identity": " "}, "identity", "Give the company's own number, as on the label."),
        ({"accuracy_pct": None}, "accuracy_pct", "A coating thickness gauge needs this figure from its data sheet."),
        ({"range_to_nm": 0}, "range_to_nm", "The range ends above where it begins."),
        (
            {"accuracy_pct": Decimal(0), "accuracy_nm": 0},
            "accuracy_pct",
            "Give the stated accuracy; both parts are zero.",
        ),
    ],
)
def test_a_gauge_that_cannot_be_is_refused_by_field(cast: Cast, changed: dict, field: str, words: str) -> None:
    with pytest.raises(Refused) as refusal:
        actions.register_gauge(cast.quinn, **({"identity": "G-02", "kind": "thickness"} | STATED | changed))
    assert [(fault.field, fault.message) for fault in refusal.value.faults] == [(field, words)]


def test_other_instruments_need_no_range(cast: Cast) -> None:
    assert actions.register_gauge(cast.quinn, identity="CM-1", kind="climate").range_to_nm is None


@pytest.mark.parametrize(("kind", "nominal"), [("shim", 0), ("zero", 1_000)])
def test_a_zero_plate_and_only_it_has_no_thickness(cast: Cast, kind: str, nominal: int) -> None:
    with pytest.raises(Refused):
        actions.register_standard(cast.quinn, identity="Z-1", kind=kind, nominal_nm=nominal)


def test_a_zero_plates_thickness_may_be_left_empty_when_registered_and_when_corrected(cast: Cast) -> None:
    plate = actions.register_standard(cast.quinn, identity="Z-1", kind="zero")
    assert plate.nominal_nm == 0
    told: dict[str, Any] = {"serial": "7", "nominal_nm": None}
    actions.correct_equipment(cast.quinn, thing=plate, **told, reason="Its serial was left out")
    plate.refresh_from_db()
    assert (plate.serial, plate.nominal_nm) == ("7", 0)
    with pytest.raises(Refused, match="more than 0"):
        actions.register_standard(cast.quinn, identity="S-9", kind="shim")


@pytest.mark.usefixtures("in_date")
def test_a_hand_over_says_who_holds_it_now(cast: Cast) -> None:
    actions.hand_over(cast.quinn, gauge=cast.gauge, to=cast.ines)
    cast.gauge.refresh_from_db()
    assert cast.gauge.holder == cast.ines
    actions.hand_over(cast.ines, gauge=cast.gauge, to=cast.igor)
    actions.hand_over(cast.igor, gauge=cast.gauge, to=None, place="Store, shelf 2")
    cast.gauge.refresh_from_db()
    assert cast.gauge.holder is None
    assert [c.holder for c in Custody.objects.filter(gauge=cast.gauge)] == [None, cast.igor, cast.ines]


@pytest.mark.usefixtures("in_date")
def test_a_hand_over_entered_late_does_not_undo_a_newer_one(cast: Cast) -> None:
    now = timezone.now()
    actions.hand_over(cast.quinn, gauge=cast.gauge, to=cast.igor, at=now)
    actions.hand_over(cast.quinn, gauge=cast.gauge, to=cast.ines, at=now - timedelta(days=2))
    cast.gauge.refresh_from_db()
    assert cast.gauge.holder == cast.igor


@pytest.mark.usefixtures("in_date")
def test_an_inspector_hands_over_only_what_they_hold_or_take(cast: Cast) -> None:
    actions.hand_over(cast.quinn, gauge=cast.gauge, to=cast.igor)
    with pytest.raises(NotAllowed, match="not in your hands"):
        actions.hand_over(cast.ines, gauge=cast.gauge, to=None, place="Store")
    actions.hand_over(cast.ines, gauge=cast.gauge, to=cast.ines)


def test_equipment_goes_to_inspectors_and_quality_managers_only(cast: Cast) -> None:
    for someone in (cast.clara, cast.admin):
        with pytest.raises(Refused, match="neither inspector nor quality manager"):
            actions.hand_over(cast.quinn, gauge=cast.gauge, to=someone)
    with pytest.raises(Refused, match="name the place"):
        actions.hand_over(cast.quinn, gauge=cast.gauge, to=None)
    with pytest.raises(Refused, match="lies in the future"):
        actions.hand_over(cast.quinn, gauge=cast.gauge, to=cast.ines, at=timezone.now() + timedelta(hours=1))


def test_an_inspector_may_quarantine_but_not_release(cast: Cast) -> None:
    actions.set_state(cast.ines, gauge=cast.gauge, state="quarantined", reason="Display flickers")
    entry = JournalEntry.objects.get(verb="equipment.state_changed")
    assert (entry.before, entry.after, entry.reason) == (
        {"state": "in_service"},
        {"state": "quarantined"},
        "Display flickers",
    )
    with pytest.raises(NotAllowed):
        actions.set_state(cast.ines, gauge=cast.gauge, state="in_service", reason="Looks fine")
    with pytest.raises(Conflict, match="already is quarantined"):
        actions.set_state(cast.quinn, gauge=cast.gauge, state="quarantined", reason="Again")
    with pytest.raises(Refused, match="Say why"):
        actions.set_state(cast.quinn, gauge=cast.gauge, state="retired", reason=" ")


def test_an_incident_tells_what_rests_on_the_gauge(cast: Cast) -> None:
    heard: list[dict[str, Any]] = []

    def listen(**sent: Any) -> None:
        heard.append(sent)

    at = timezone.now() - timedelta(hours=1)
    evidence_changed.connect(listen)
    try:
        actions.report_incident(cast.ines, gauge=cast.gauge, at=at, what="Fell from the board")
    finally:
        evidence_changed.disconnect(listen)
    assert heard[0]["gauges"] == [cast.gauge.pk]
    assert heard[0]["since"] < at - timedelta(hours=24)
    assert cast.gauge.incidents.get().what == "Fell from the board"


def test_outsiders_change_nothing(cast: Cast) -> None:
    for someone in (cast.clara, cast.audrey, cast.admin):
        with pytest.raises(NotAllowed):
            actions.register_gauge(someone, identity="G-9", kind="climate")
        with pytest.raises(NotAllowed):
            actions.hand_over(someone, gauge=cast.gauge, to=cast.ines)
        with pytest.raises(NotAllowed):
            actions.report_incident(someone, gauge=cast.gauge, at=timezone.now(), what="Fell")
        with pytest.raises(NotAllowed):
            actions.set_state(someone, gauge=cast.gauge, state="quarantined", reason="x")
