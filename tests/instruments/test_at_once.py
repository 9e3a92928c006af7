"""Two people at the same certificate or gauge at the same moment: one consistent state, and one clear sentence."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from threading import Barrier
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.models import JournalEntry
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, Refused
from inspection.instruments import actions
from inspection.instruments.models import Certificate, Custody, Gauge, GaugeIncident
from tests import cast as casting
from tests.cast import Cast

pytestmark = pytest.mark.postgresql
PAPER: dict[str, Any] = {
    "number": "CS-1", "laboratory": "Example Laboratory", "issued": date(2025, 9, 1), "expires": date(2026, 9, 1),
    "traceable_to": "National institute",
}  # fmt: skip


@pytest.fixture
def at_once(transactional_db: None) -> Iterator[Callable[[Callable[[int], Any]], list[Any]]]:
    """at_once(act) lets two threads act together; gives what each returned, or how it was refused."""
    start = Barrier(2)

    def one(act: Callable[[int], Any], number: int) -> Any:
        start.wait()
        try:
            return act(number)
        except Refused as refusal:
            return refusal
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        yield lambda act: list(pool.map(lambda number: one(act, number), range(2)))


@pytest.fixture
def site(transactional_db: None) -> Cast:
    return casting.cast()


def refused(answers: list[Any]) -> list[Refused]:
    return [answer for answer in answers if isinstance(answer, Refused)]


def test_two_corrections_of_one_certificate_leave_one(site: Cast, at_once: Any) -> None:
    answers = at_once(
        lambda number: actions.correct_certificate(
            site.quinn, certificate=site.shim_certificate, reason=f"Slip {number}", **PAPER
        )
    )
    (refusal,) = refused(answers)
    assert isinstance(refusal, Conflict)
    assert "already been corrected" in str(refusal)
    assert Certificate.objects.filter(replaces=site.shim_certificate).count() == 1


def test_two_withdrawals_of_one_certificate_leave_one_reason(site: Cast, at_once: Any) -> None:
    answers = at_once(
        lambda number: actions.withdraw_certificate(
            site.quinn, certificate=Certificate.objects.get(number="CS-1"), reason=f"Reason {number}"
        )
    )
    (refusal,) = refused(answers)
    kept = Certificate.objects.get(number="CS-1").withdrawal_reason
    assert str(refusal) == f"Certificate CS-1 was already withdrawn: {kept}"
    assert JournalEntry.objects.filter(verb="certificate.withdrawn").count() == 1


def test_the_same_certificate_recorded_twice_is_recorded_once(site: Cast, at_once: Any) -> None:
    answers = at_once(lambda number: actions.record_certificate(site.quinn, **PAPER | {"number": "CS-7"}))
    (refusal,) = refused(answers)
    assert "already recorded" in str(refusal)
    assert Certificate.objects.filter(number="CS-7").count() == 1


def test_the_same_number_registered_twice_is_registered_once(site: Cast, at_once: Any) -> None:
    answers = at_once(lambda number: actions.register_gauge(site.quinn, identity="G-50", kind="climate"))
    (refusal,) = refused(answers)
    assert "already registered" in str(refusal)
    assert Gauge.objects.filter(identity="G-50").count() == 1


def test_two_hand_overs_end_with_the_newest_as_holder(site: Cast, at_once: Any) -> None:
    casting.bring_in_date()
    people = (site.ines, site.igor)
    answers = at_once(lambda number: actions.hand_over(site.quinn, gauge=site.gauge, to=people[number]))
    assert refused(answers) == []
    newest = Custody.objects.filter(gauge=site.gauge).order_by("-from_when", "-pk").first()
    assert newest is not None
    assert Gauge.objects.get(pk=site.gauge.pk).holder == newest.holder


def test_the_same_sent_twice_at_once_is_new_to_one_of_both(site: Cast, at_once: Any) -> None:
    casting.bring_in_date()
    moment = timezone.now().isoformat()
    sent = {
        "api_gauge_hand_over": {"id": str(new_id()), "to": str(site.ines.pk), "at": moment},
        "api_incident_report": {"id": str(new_id()), "at": moment, "what": "fell on the deck"},
    }

    def send(name: str) -> int:
        client = Client()
        client.force_login(site.quinn)
        address = reverse(name, args=[site.gauge.pk])
        return client.post(address, json.dumps(sent[name]), content_type="application/json").status_code

    for name in sent:
        assert sorted(at_once(lambda number, name=name: send(name))) == [200, 201], name
    assert (Custody.objects.count(), GaugeIncident.objects.count()) == (1, 1)


def test_of_two_choices_at_once_the_second_is_journalled_after_the_first(site: Cast, at_once: Any) -> None:
    chosen = ({"overdue": "warn"}, {"combination": "sum"})
    rest = {"escalate_after_days": 7, "cost_of_a_reading": None, "currency": "", "reason": "Review"}
    held = {"overdue": "block", "combination": "root-sum-square"}
    answers = at_once(lambda number: actions.choose_rules(site.quinn, **rest | held | chosen[number]))
    assert refused(answers) == []
    first, second = JournalEntry.objects.filter(verb="instrument_rules.chosen").order_by("pk")
    assert second.before == first.after


def test_the_same_choice_made_twice_at_once_is_made_once(site: Cast, at_once: Any) -> None:
    rest = {"escalate_after_days": 7, "cost_of_a_reading": None, "currency": "", "reason": "Review"}
    answers = at_once(
        lambda number: actions.choose_rules(site.quinn, overdue="warn", combination="root-sum-square", **rest)
    )
    (refusal,) = refused(answers)
    assert "This is what holds already" in str(refusal)
