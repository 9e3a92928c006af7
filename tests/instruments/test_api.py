"""Instruments in the API: what is read and by whom, and checks stored once by the same action as on the pages."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import JournalEntry, Person
from inspection.instruments.models import Certificate, Gauge, Verification
from tests.cast import MORNING, Cast
from tests.instruments.pages import as_person, checked
from tests.past_triggers import rewrite


def read(person: Person, name: str, *args: object, query: str = "") -> tuple[int, Any]:
    answer = as_person(person).get(reverse(name, args=args) + query)
    return answer.status_code, answer.json()


def send(person: Person, content: dict[str, Any]) -> tuple[int, Any]:
    answer = as_person(person).post(reverse("api_verification_list"), content, content_type="application/json")
    return answer.status_code, answer.json()


def content(cast: Cast, **changed: Any) -> dict[str, Any]:
    return {
        "id": str(uuid4()), "gauge": str(cast.gauge.pk), "project": str(cast.site.project.pk), "purpose": "opening",
        "adjustment": "two-point", "surface": "blasted", "taken_at": "2026-03-04T08:00:00+01:00",
        "points": [
            {"standards": [str(cast.shims[50].pk)], "readings_um": [50.1, 50.3, 49.9]},
            {"standards": [str(cast.shims[250].pk)], "readings_um": [250, 249.8, 250.3]},
        ],
    } | changed  # fmt: skip


def test_a_check_is_stored_and_answered_with_what_was_judged(cast: Cast) -> None:
    status, answer = send(cast.ines, content(cast))
    assert status == 201
    assert (answer["verdict"], answer["verified_from_um"], answer["verified_to_um"]) == ("pass", 50.2, 249.8)
    assert answer["points"][0]["readings_um"] == [50.1, 50.3, 49.9]
    assert answer["result"]["points"][0]["tolerance_um"] == pytest.approx(1.8044, abs=1e-4)
    assert Verification.objects.get().taken_at.isoformat() == "2026-03-04T07:00:00+00:00"


def test_readings_as_found_with_an_adjustment_are_refused_by_name(cast: Cast) -> None:
    status, problem = send(cast.ines, content(cast, as_left=False))
    assert (status, [fault["field"] for fault in problem["errors"]]) == (422, ["adjustment"])
    assert not Verification.objects.exists()


def test_sending_again_changes_nothing_and_another_content_is_a_conflict(cast: Cast) -> None:
    sent = content(cast)
    first = send(cast.ines, sent)[1]
    status, again = send(cast.ines, sent)
    assert (status, again) == (200, first)
    status, problem = send(cast.ines, sent | {"note": "other"})
    assert (status, problem["type"]) == (409, "/api/problems/conflict/")
    assert Verification.objects.count() == 1


def test_readings_in_mil_are_exact(cast: Cast) -> None:
    points = [{"standards": [str(cast.shims[50].pk)], "readings_mil": [1.98, 1.97]}]
    _, answer = send(cast.ines, content(cast, points=points))
    assert answer["points"][0]["readings_um"] == [50.292, 50.038]


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"colour": "blue"}, "colour", "There is no such field"),
        ({"taken_at": "2026-03-04T08:00:00"}, "taken_at", "Give the time zone too"),
        ({"purpose": "curiosity"}, "purpose", "not a valid choice"),
        ({"id": "7"}, "id", "valid UUID"),
        ({"points": [{"standards": [], "readings_um": [1]}]}, "points[0].standards", "at least 1"),
        ({"points": []}, "points", "1 to 20 points"),
    ],
)
def test_each_fault_names_its_field(cast: Cast, changed: dict, field: str, words: str) -> None:
    status, problem = send(cast.ines, content(cast, **changed))
    assert status == 422
    faults = [fault for fault in problem["errors"] if fault["field"] == field]
    assert faults
    assert words in faults[0]["message"]
    assert not Verification.objects.exists()


@pytest.mark.parametrize(
    ("point", "field", "words"),
    [
        ({"readings_um": [50, "51"]}, "points[0].readings_um[1]", "without quotation marks"),
        ({"readings_um": [50.12345]}, "points[0].readings_um[0]", "too many digits"),
        ({"readings_um": [50], "readings_mil": [2]}, "points[0].readings_um", "one of the two"),
        ({}, "points[0].readings_um", "one of the two"),
    ],
)
def test_each_fault_of_a_reading_names_its_place(cast: Cast, point: dict, field: str, words: str) -> None:
    _, problem = send(cast.ines, content(cast, points=[{"standards": [str(cast.shims[50].pk)]} | point]))
    assert [(fault["field"], words in fault["message"]) for fault in problem["errors"]] == [(field, True)]


def test_an_expired_certificate_is_refused_with_point_and_reason(cast: Cast) -> None:
    rewrite(Certificate.objects.filter(pk=cast.shim_certificate.pk), expires=date(2026, 3, 3))
    status, problem = send(cast.ines, content(cast))
    assert status == 422
    assert problem["errors"][1] == {
        "field": "points", "row": 2, "message": "S-250: certificate CS-1 expired on 2026-03-03.",
    }  # fmt: skip


def test_gauges_and_standards_are_read_with_their_certificates(cast: Cast) -> None:
    _, page = read(cast.ines, "api_gauge_list", query="?identity=g-01")
    (gauge,) = page["results"]
    assert (gauge["range_to_um"], gauge["accuracy_um"], gauge["certificate"]["number"]) == (1500, 1, "CG-1")
    _, shim = read(cast.ines, "api_standard", cast.shims[50].pk)
    assert (shim["certified_um"], shim["expanded_uncertainty_um"]) == (50.2, 1)
    _, paper = read(cast.ines, "api_certificate", cast.shim_certificate.pk)
    assert {value["value_um"] for value in paper["values"]} == {50.2, 125.4, 249.8, 501}


def test_checks_can_be_read_of_one_gauge(cast: Cast) -> None:
    checked(cast)
    assert len(read(cast.quinn, "api_verification_list", query=f"?gauge={cast.gauge.pk}")[1]["results"]) == 1
    assert read(cast.quinn, "api_verification_list", query=f"?gauge={uuid4()}")[1]["results"] == []


@pytest.mark.parametrize(
    "name", ["api_gauge_list", "api_standard_list", "api_certificate_list", "api_verification_list"]
)
def test_the_number_of_queries_does_not_grow_with_rows(cast: Cast, name: str) -> None:
    client = as_person(cast.quinn)
    checked(cast)

    def cost() -> int:
        with CaptureQueriesContext(connection) as caught:
            assert client.get(reverse(name)).status_code == 200
        return len(caught)

    before = cost()
    for day in range(1, 8):
        checked(cast, days=day)
        Gauge.objects.create(identity=f"C-{day}", kind="climate", holder=cast.igor)
    assert cost() == before


def test_strangers_read_and_store_nothing(cast: Cast) -> None:
    check = checked(cast)
    assert read(cast.carl, "api_verification", check.pk)[0] == 404
    assert read(cast.carl, "api_gauge", cast.gauge.pk)[0] == 404
    assert read(cast.audrey, "api_gauge", cast.gauge.pk)[0] == 200
    assert send(cast.clara, content(cast))[0] == 403
    assert send(cast.igor, content(cast))[0] == 404
    assert Client().get(reverse("api_gauge_list")).status_code == 401


def test_a_hand_over_and_a_fall_sent_by_a_program_are_kept_once_and_the_receiver_confirms(cast: Cast) -> None:
    gauge = cast.gauge

    def post(person: Person, deed: str, content: dict[str, Any]) -> tuple[int, Any]:
        address = reverse(f"api_{deed}", args=[gauge.pk])
        answer = as_person(person).post(address, content, content_type="application/json")
        return answer.status_code, answer.json()

    sent = {"id": str(uuid4()), "to": str(cast.igor.pk), "at": MORNING.isoformat()}
    (first, answer), again = (post(cast.quinn, "gauge_hand_over", sent) for _ in range(2))
    assert first == 201
    assert again == (200, answer)
    assert answer["confirmed_at"] is None
    assert post(cast.quinn, "gauge_hand_over", {**sent, "place": "elsewhere"})[0] == 409
    assert gauge.custody.count() == 1

    refused, told = post(cast.ines, "gauge_receipt", {})
    assert refused == 409
    assert "not in your hands" in told["detail"]
    for _ in range(2):
        assert post(cast.igor, "gauge_receipt", {})[1]["confirmed_at"]
    assert JournalEntry.objects.filter(verb="equipment.receipt_confirmed").count() == 1

    fell = {
        "id": str(uuid4()),
        "at": (MORNING + timedelta(hours=1)).isoformat(),
        "what": "Fell from a board",
    }
    assert [post(cast.igor, "incident_report", fell)[0] for _ in range(2)] == [201, 200]
    assert post(cast.igor, "incident_report", {**fell, "what": "Wet"})[0] == 409
    assert gauge.incidents.count() == 1
