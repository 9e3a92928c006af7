"""What was registered wrongly of a gauge or a standard is put right, journalled; evidence stays as it was found."""

from __future__ import annotations

from typing import Any

from django.test import Client

from accounts.models import JournalEntry, Person
from inspection.instruments.models import Gauge, ReferenceStandard, Verification
from inspection.standing.models import Standing
from tests.cast import Cast
from tests.standing.scene import measure, verify


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def text_of(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def gauge_data(**changed: Any) -> dict[str, Any]:
    return {
        "identity": "G-01", "serial": "1001", "maker": "", "model": "", "unit": "um", "range_from_nm": "0",
        "range_to_nm": "1500", "accuracy_pct": "1", "accuracy_nm": "1", "reason": "Typed wrongly", **changed,
    }  # fmt: skip


def test_the_form_shows_what_is_stored_and_a_correction_is_journalled(cast: Cast) -> None:
    client, path = as_person(cast.quinn), f"/instruments/gauges/{cast.gauge.pk}/correct/"
    shown = text_of(client.get(path))
    assert 'value="G-01"' in shown
    assert 'name="range_to_nm" value="1500' in shown
    assert client.post(path, gauge_data(serial="1010", identity="G-02")).status_code == 302
    gauge = Gauge.objects.get()
    assert (gauge.identity, gauge.serial, gauge.range_to_nm) == ("G-02", "1010", 1_500_000)
    entry = JournalEntry.objects.get(verb="equipment.corrected")
    assert (entry.before, entry.after, entry.reason) == (
        {"identity": "G-01", "serial": "1001"}, {"identity": "G-02", "serial": "1010"}, "Typed wrongly",
    )  # fmt: skip


def test_what_cannot_be_is_told_and_nothing_is_stored(cast: Cast) -> None:
    client, path = as_person(cast.quinn), f"/instruments/gauges/{cast.gauge.pk}/correct/"
    assert "S-50 is already registered" in text_of(client.post(path, gauge_data(identity="S-50")))
    assert "Nothing differs" in text_of(client.post(path, gauge_data()))
    assert client.post(path, gauge_data(serial="7", reason="")).status_code == 422
    assert client.post(path, gauge_data(range_to_nm="")).status_code == 422
    assert Gauge.objects.get().serial == "1001"
    for person, status in ((cast.ines, 403), (cast.clara, 404)):
        assert as_person(person).post(path, gauge_data(serial="7")).status_code in (status, 403)


def test_checks_keep_what_they_found_when_the_accuracy_is_corrected(cast: Cast) -> None:
    verify(cast, "06:40")
    record = measure(cast, "08:00", "08:20")
    verify(cast, "09:00")
    digests = list(Verification.objects.order_by("taken_at").values_list("digest", "verdict"))
    path = f"/instruments/gauges/{cast.gauge.pk}/correct/"
    answer = as_person(cast.quinn).post(path, gauge_data(accuracy_pct="2"))
    if answer.status_code == 200:  # it changes something elsewhere, and asks
        assert "Nothing is stored yet" in text_of(answer)
        confirmed = text_of(answer).split('name="confirmed" value="')[1].split('"')[0]
        assert as_person(cast.quinn).post(path, gauge_data(accuracy_pct="2", confirmed=confirmed)).status_code == 302
    assert Gauge.objects.get().accuracy_pct == 2
    assert list(Verification.objects.order_by("taken_at").values_list("digest", "verdict")) == digests
    assert Standing.objects.get(record=record).state == "sound"


def test_a_standard_gets_its_right_nominal_thickness(cast: Cast) -> None:
    shim = cast.shims[125]
    sent = {"identity": "S-125", "unit": "um", "nominal_nm": "120", "reason": "It is sold as 120"}
    path = f"/instruments/standards/{shim.pk}/correct/"
    assert as_person(cast.quinn).post(path, {**sent, "nominal_nm": "0"}).status_code == 422
    assert as_person(cast.quinn).post(path, sent).status_code == 302
    assert ReferenceStandard.objects.get(pk=shim.pk).nominal_nm == 120_000
