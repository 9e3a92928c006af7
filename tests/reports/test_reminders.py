"""Reminders before a certificate or a qualification runs out: the right day, the right people, once each."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from accounts.models import Letter, Qualification
from inspection.instruments.models import Certificate, CertifiedValue
from reports.reminders import remind, threshold_passed
from tests.cast import Cast

EXPIRES = date(2026, 9, 1)  # both certificates of the cast


def on(days_before: int) -> datetime:
    return datetime.combine(EXPIRES - timedelta(days=days_before), datetime.min.time(), UTC) + timedelta(hours=9)


def letters(kind: str = "certificate-expiry") -> list[tuple[str, str]]:
    """Certificate number or person, threshold and recipient of what was written."""
    numbers = {str(row.pk): row.number for row in Certificate.objects.all()}
    found = []
    for letter in Letter.objects.filter(kind=kind):
        pk, threshold = letter.about.split(":")
        found.append((f"{numbers.get(pk, pk)} {threshold}", letter.recipient.split("@")[0]))
    return sorted(found)


@pytest.mark.parametrize(
    ("days", "threshold"),
    [(61, None), (60, 60), (45, 60), (30, 30), (8, 30), (7, 7), (1, 7), (0, 0), (-3, 0)],
)
def test_the_threshold_passed_last_is_due(days: int, threshold: int | None) -> None:
    assert threshold_passed(EXPIRES, EXPIRES - timedelta(days=days)) == threshold


def test_nothing_is_written_earlier(cast: Cast) -> None:
    assert remind(on(61)) == 0
    assert letters() == []


def test_each_threshold_is_written_once_to_each(cast: Cast) -> None:
    for day in range(70, -5, -1):
        remind(on(day))
        remind(on(day))
    assert letters() == sorted(
        (f"{number} {threshold}", "quinn") for number in ("CG-1", "CS-1") for threshold in (60, 30, 7, 0)
    )


def test_after_days_without_a_worker_only_the_last_threshold_is_written(cast: Cast) -> None:
    remind(on(61))
    remind(on(5))
    assert letters() == [("CG-1 7", "quinn"), ("CS-1 7", "quinn")]


def test_a_beat_missed_on_the_day_itself_is_made_up(cast: Cast) -> None:
    remind(on(-3))
    assert letters() == [("CG-1 0", "quinn"), ("CS-1 0", "quinn")]
    assert "ran out on 2026-09-01" in Letter.objects.all()[0].subject


def test_who_holds_the_equipment_is_told_too(cast: Cast) -> None:
    cast.gauge.holder = cast.ines
    cast.gauge.save()
    remind(on(30))
    assert letters() == [("CG-1 30", "ines"), ("CG-1 30", "quinn"), ("CS-1 30", "quinn")]
    body = Letter.objects.get(recipient=cast.ines.email).body
    assert "G-01, held by Ines Inspector" in body
    assert "2026-09-01, in 30 days" in body


def test_a_holder_who_is_also_a_manager_gets_one_letter(cast: Cast) -> None:
    cast.gauge.holder = cast.quinn
    cast.gauge.save()
    remind(on(30))
    assert letters() == [("CG-1 30", "quinn"), ("CS-1 30", "quinn")]


def test_a_withdrawn_certificate_is_not_reminded(cast: Cast) -> None:
    Certificate.objects.filter(number="CG-1").update(
        withdrawn_at=on(90), withdrawn_by=cast.quinn, withdrawal_reason="error"
    )
    remind(on(7))
    assert letters() == [("CS-1 7", "quinn")]


def test_a_replaced_certificate_is_reminded_by_its_new_date(cast: Cast) -> None:
    old = cast.gauge_certificate
    new = Certificate.objects.create(
        number="CG-1", version=2, replaces=old, replacement_reason="date misread", laboratory=old.laboratory,
        issued=old.issued, expires=EXPIRES + timedelta(days=30), traceable_to=old.traceable_to, recorded_by=cast.quinn,
    )  # fmt: skip
    CertifiedValue.objects.create(certificate=new, gauge=cast.gauge)
    remind(on(7))
    assert letters() == [("CG-1 60", "quinn"), ("CS-1 7", "quinn")]


def test_equipment_calibrated_again_is_not_reminded_of_the_old_certificate(cast: Cast) -> None:
    new = Certificate.objects.create(
        number="CG-2", laboratory="Example Laboratory", issued=date(2026, 8, 1), expires=date(2027, 8, 1),
        traceable_to="National institute", recorded_by=cast.quinn,
    )  # fmt: skip
    CertifiedValue.objects.create(certificate=new, gauge=cast.gauge)
    remind(on(7))
    assert letters() == [("CS-1 7", "quinn")]


@pytest.mark.parametrize("state", ["retired", "at_laboratory", "quarantined"])
def test_equipment_out_of_service_is_not_reminded(cast: Cast, state: str) -> None:
    cast.gauge.state = state
    cast.gauge.save()
    remind(on(7))
    assert letters() == [("CS-1 7", "quinn")]


def test_a_qualification_is_reminded_to_the_person_and_the_managers(cast: Cast) -> None:
    paper = Qualification.objects.create(
        person=cast.ines, scheme="Coating inspector", number="CI-17", issued=date(2023, 1, 1), expires=EXPIRES
    )
    remind(on(7))
    assert letters("qualification-expiry") == [(f"{paper.pk} 7", "ines"), (f"{paper.pk} 7", "quinn")]


def test_a_renewed_qualification_is_not_reminded_by_the_old_date(cast: Cast) -> None:
    for expires in (EXPIRES, EXPIRES + timedelta(days=900)):
        Qualification.objects.create(
            person=cast.ines, scheme="Coating inspector", number="CI-17", issued=date(2023, 1, 1), expires=expires
        )
    remind(on(7))
    assert letters("qualification-expiry") == []


def test_people_who_left_are_not_written_to(cast: Cast) -> None:
    cast.gauge.holder = cast.ines
    cast.gauge.save()
    cast.ines.is_active = False
    cast.ines.save()
    Qualification.objects.create(
        person=cast.ines, scheme="Coating inspector", number="CI-17", issued=date(2023, 1, 1), expires=EXPIRES
    )
    remind(on(7))
    assert {letter.recipient for letter in Letter.objects.all()} == {cast.quinn.email}
