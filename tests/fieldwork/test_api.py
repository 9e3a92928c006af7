"""The API of the field room: the same actions, sight and words as the pages; faults named by their place."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from inspection.fieldwork.actions import record_thickness
from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.models import ClimateRecord, Reading, ThicknessRecord
from inspection.foundation.ids import new_id
from tests.cast import MORNING, Cast
from tests.fieldwork.build import GOOD_SPOTS, sent

THICKNESS, CLIMATE = "/api/thickness/", "/api/climate/"


def thickness(cast: Cast, **changes: Any) -> dict[str, Any]:
    site = cast.site
    body = {
        "id": str(new_id()),
        "project": str(site.project.pk),
        "area": str(site.area.pk),
        "coat": str(site.coats[0].pk),
        "gauge": str(cast.gauge.pk),
        "profile_way": "adjusted",
        "first_reading_at": MORNING.isoformat(),
        "last_reading_at": (MORNING + timedelta(hours=1)).isoformat(),
        "readings": [
            {"spot": reading.spot, "reading": reading.order, "value_um": reading.value_nm / 1000}
            for reading in GOOD_SPOTS
        ],
        **changes,
    }
    return {name: value for name, value in body.items() if value is not None}


def climate(cast: Cast, **changes: Any) -> dict[str, Any]:
    site = cast.site
    body = {
        "id": str(new_id()),
        "project": str(site.project.pk),
        "area": str(site.area.pk),
        "coat": str(site.coats[0].pk),
        "taken_at": MORNING.isoformat(),
        "dry_bulb_c": 20,
        "wet_bulb_c": 15.0,
        "surface_c": 18,
        **changes,
    }
    return {name: value for name, value in body.items() if value is not None}


@pytest.fixture
def send(client: Client, cast: Cast) -> Callable[..., Any]:
    """send(address, body, by=Ines)"""

    def post(address: str, body: Any, by: Any = None) -> Any:
        client.force_login(by or cast.ines)
        return client.post(address, body, content_type="application/json")

    return post


def faults(answer: Any, status: int = 422) -> dict[str, str]:
    assert answer.status_code == status, answer.content
    assert answer["Content-Type"] == "application/problem+json"
    assert not ThicknessRecord.objects.exists()
    assert not Reading.objects.exists()
    assert not ClimateRecord.objects.exists()
    return {fault["field"]: fault["message"] for fault in answer.json().get("errors", [])}


# --- storing ----------------------------------------------------------------------------------------------------------
def test_a_sent_record_is_stored_judged_and_read_back(cast: Cast, send: Callable[..., Any], client: Client) -> None:
    body = thickness(cast)
    answer = send(THICKNESS, body)
    assert answer.status_code == 201, answer.content
    stored = answer.json()
    assert (stored["id"], stored["verdict"], stored["reading_count"]) == (body["id"], "pass", 15)
    assert [check["passed"] for check in stored["result"]["checks"]] == [True] * 4
    detail = client.get(f"{THICKNESS}{body['id']}/").json()
    assert detail["source"] == "api"
    assert [(r["spot"], r["reading"], r["value_um"]) for r in detail["readings"]] == [
        (r.spot, r.order, r.value_nm / 1000) for r in GOOD_SPOTS
    ]


def test_sending_again_answers_200_and_stores_nothing(cast: Cast, send: Callable[..., Any]) -> None:
    body = thickness(cast)
    first, again = send(THICKNESS, body), send(THICKNESS, body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert Reading.objects.count() == 15


def test_the_same_readings_under_another_id_are_stored_and_told(cast: Cast, send: Callable[..., Any]) -> None:
    assert send(THICKNESS, thickness(cast)).json()["warnings"] == []
    answer = send(THICKNESS, thickness(cast))
    assert answer.status_code == 201
    assert answer.json()["warnings"] == [
        "The same readings are stored already: A1 after Primer, 2026-03-04 07:00, by Ines Inspector."
    ]


def test_other_content_under_a_used_id_is_a_conflict(cast: Cast, send: Callable[..., Any]) -> None:
    body = thickness(cast)
    send(THICKNESS, body)
    answer = send(THICKNESS, {**body, "note": "another"})
    assert answer.status_code == 409
    assert answer.json()["errors"][0]["field"] == "id"


def test_mil_are_stored_exactly(cast: Cast, send: Callable[..., Any]) -> None:
    readings = [{"spot": spot, "value_mil": 3.32} for spot in range(1, 6) for _ in range(3)]
    answer = send(THICKNESS, thickness(cast, readings=readings))
    assert answer.status_code == 201, answer.content
    assert set(Reading.objects.values_list("value_nm", flat=True)) == {84_328}
    assert answer.json()["unit"] == "mil"


def test_a_voided_reading_with_its_time_is_kept(cast: Cast, send: Callable[..., Any]) -> None:
    at = (MORNING + timedelta(minutes=5)).isoformat()
    odd = {"spot": 1, "value_um": 190, "taken_at": at, "void_reason": "probe tilted"}
    body = thickness(cast)
    answer = send(THICKNESS, {**body, "readings": [*body["readings"], odd]})
    assert answer.json()["verdict"] == "incomplete"
    stored = Reading.objects.get(spot=1, order=4)
    assert (stored.void_reason, stored.taken_at) == ("probe tilted", MORNING + timedelta(minutes=5))


def test_a_correction_names_what_it_replaces(cast: Cast, send: Callable[..., Any], client: Client) -> None:
    old, _ = record_thickness(cast.ines, **sent(cast))
    answer = send(THICKNESS, thickness(cast, replaces=str(old.pk), replacement_reason="spot 2 was misread"))
    assert answer.json()["replaces"] == str(old.pk)
    assert client.get(f"{THICKNESS}{old.pk}/").json()["replaced_by"] == answer.json()["id"]
    current = client.get(THICKNESS, {"current": "true"}).json()["results"]
    assert [record["id"] for record in current] == [answer.json()["id"]]


def test_a_climate_record_is_stored_judged_and_sent_again(cast: Cast, send: Callable[..., Any]) -> None:
    body = climate(cast)
    first, again = send(CLIMATE, body), send(CLIMATE, body)
    assert (first.status_code, again.status_code) == (201, 200), first.content
    # WMO-No. 8, Magnus constants over water, psychrometer coefficient 0.000662.
    assert first.json()["dew_point_c"] == pytest.approx(11.63, abs=0.02)
    assert first.json()["verdict"] == "pass"


# --- what is wrong ----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("reading", "field", "said"),
    [
        ({"spot": 1, "value_um": -4}, "value_um", "negative"),
        ({"spot": 1, "value_um": 99_999}, "value_um", "outside the range of gauge"),
        ({"spot": 1, "value_um": 1e300}, "value_um", "beyond anything measured"),
        ({"spot": 1, "value_um": 10**400}, "value_um", "beyond anything measured"),
        ({"spot": 1, "value_um": "eighty"}, "value_um", "JSON number"),
        ({"spot": 1, "value_um": "84,5"}, "value_um", "JSON number"),
        ({"spot": 1, "value_um": True}, "value_um", "JSON number"),
        ({"spot": 1, "value_um": [84.5]}, "value_um", "JSON number"),
        ({"spot": 1, "value_um": 84.55555}, "value_um", "too many digits"),
        ({"spot": 1, "value_mil": 3.3}, "value_mil", "in one unit"),
        ({"spot": 1, "value_um": 84, "value_mil": 3.3}, "value_mil", "in one unit"),
        ({"spot": 1, "value_mm": 0.08}, "value_mm", "no such field"),
        ({"spot": 1}, "value_um", "is missing"),
        ({"value_um": 84}, "spot", "whole number"),
        ({"spot": 0, "value_um": 84}, "spot", "counted from 1"),
        ({"spot": 1.5, "value_um": 84}, "spot", "whole number"),
        ({"spot": 10**30, "value_um": 84}, "spot", "counted from 1"),
        ({"spot": 1, "reading": "2", "value_um": 84}, "reading", "whole number"),
        ({"spot": 1, "reading": 1, "value_um": 84}, "reading", "given twice"),
        ({"spot": 1, "value_um": 84, "taken_at": "2026-03-04 08:00"}, "taken_at", "time zone"),
        ({"spot": 1, "value_um": 84, "taken_at": "2999-01-01T00:00:00Z"}, "taken_at", "outside first and last"),
        ({"spot": 1, "value_um": 84, "taken_at": 5}, "taken_at", "time zone"),
        ({"spot": 1, "value_um": 84, "void_reason": 7}, "void_reason", "text"),
        ({"spot": 1, "value_um": 84, "void_reason": "x" * 201}, "void_reason", "at most 200"),
        ({"spot": 1, "value_um": 84, "void_reason": "a\0b"}, "void_reason", "Null characters are not allowed"),
    ],
)
def test_a_wrong_reading_is_named_by_its_place_and_nothing_is_stored(
    cast: Cast, send: Callable[..., Any], reading: dict[str, Any], field: str, said: str
) -> None:
    body = thickness(cast)
    found = faults(send(THICKNESS, {**body, "readings": [*body["readings"], reading]}))
    assert said in found[f"readings[15].{field}"]


@pytest.mark.parametrize("reading", [5, None, "84.5", [1, 84.5]])
def test_a_reading_that_is_no_object_is_named(cast: Cast, send: Callable[..., Any], reading: Any) -> None:
    assert "readings[0]" in faults(send(THICKNESS, thickness(cast, readings=[reading])))


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"readings": []}, "readings"),
        ({"readings": {"spot": 1}}, "readings"),
        ({"id": "not an id"}, "id"),
        ({"id": None}, "id"),
        ({"first_reading_at": "2026-03-04T07:00:00"}, "first_reading_at"),
        ({"first_reading_at": (timezone.now() + timedelta(days=1)).isoformat()}, "first_reading_at"),
        ({"last_reading_at": "1999-01-01T00:00:00Z"}, "last_reading_at"),
        ({"last_reading_at": "yesterday"}, "last_reading_at"),
        ({"profile_way": "guessed"}, "profile_way"),
        ({"profile_way": "correction"}, "correction_um"),
        ({"profile_way": "correction", "correction_um": -1}, "correction_um"),
        ({"profile_way": "correction", "correction_um": "25"}, "correction_um"),
        ({"profile_way": "correction", "correction_mil": 1}, "correction_mil"),
        ({"correction_um": 25}, "correction_um"),
        ({"note": "x" * 4001}, "note"),
        ({"colour": "red"}, "colour"),
    ],
)
def test_a_wrong_head_is_named_by_field(
    cast: Cast, send: Callable[..., Any], changes: dict[str, Any], field: str
) -> None:
    assert field in faults(send(THICKNESS, thickness(cast, **changes)))


def test_faults_of_head_and_readings_are_said_together(cast: Cast, send: Callable[..., Any]) -> None:
    found = faults(send(THICKNESS, thickness(cast, profile_way="guessed", readings=[{"spot": 1, "value_um": -1}])))
    assert set(found) == {"profile_way", "readings[0].value_um"}


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"dry_bulb_c": "18,5"}, "dry_bulb_c"),
        ({"dry_bulb_c": 5000}, "dry_bulb_c"),
        ({"dry_bulb_c": -80}, "dry_bulb_c"),
        ({"dry_bulb_c": 18.55}, "dry_bulb_c"),
        ({"dry_bulb_c": None}, "dry_bulb_c"),
        ({"wet_bulb_c": 25}, "wet_bulb_c"),
        ({"wet_bulb_c": None}, "wet_bulb_c"),
        ({"relative_humidity_pct": 50}, "relative_humidity_pct"),
        ({"wet_bulb_c": None, "relative_humidity_pct": -5}, "relative_humidity_pct"),
        ({"dry_bulb_c": 1, "wet_bulb_c": -1}, "wet_bulb_over"),
        ({"pressure_hpa": 5}, "pressure_hpa"),
        ({"taken_at": (timezone.now() + timedelta(days=1)).isoformat()}, "taken_at"),
        ({"taken_at": "2026-03-04T07:00:00"}, "taken_at"),
        ({"surface_f": 60}, "surface_f"),
    ],
)
def test_a_wrong_climate_value_is_named_by_field(
    cast: Cast, send: Callable[..., Any], changes: dict[str, Any], field: str
) -> None:
    assert field in faults(send(CLIMATE, climate(cast, **changes)))


@pytest.mark.parametrize("address", [THICKNESS, CLIMATE])
@pytest.mark.parametrize("body", [b"", b"[]", b"5", b"null", b"{", b'{"id": NaN}', "{\u00e9}".encode("latin-1")])
def test_what_is_no_json_object_is_refused(cast: Cast, send: Callable[..., Any], address: str, body: bytes) -> None:
    answer = send(address, body)
    assert answer.status_code in (400, 422), answer.content
    assert answer["Content-Type"] == "application/problem+json"


def test_50_mb_are_too_large(cast: Cast, send: Callable[..., Any]) -> None:
    answer = send(THICKNESS, b'{"note": "' + b"x" * (50 * 1024 * 1024) + b'"}')
    faults(answer, 413)


# --- reading ----------------------------------------------------------------------------------------------------------
def test_lists_are_narrowed_by_project_area_and_verdict(cast: Cast, client: Client) -> None:
    passed, _ = record_thickness(cast.ines, **sent(cast))
    short, _ = record_thickness(cast.ines, **sent(cast, area=cast.site.other_area))
    client.force_login(cast.ines)

    def ids(**asked: Any) -> set[str]:
        return {record["id"] for record in client.get(THICKNESS, asked).json()["results"]}

    assert ids() == {str(passed.pk), str(short.pk)}
    assert ids(verdict="incomplete") == {str(short.pk)}
    assert ids(area=cast.site.area.pk) == {str(passed.pk)}
    assert ids(project=cast.foreign.project.pk) == set()
    assert client.get(THICKNESS, {"verdict": "perhaps"}).status_code == 422
    assert client.get(THICKNESS, {"project": "x"}).status_code == 404


def test_the_list_takes_no_more_queries_for_thirty_records_than_for_three(
    cast: Cast, client: Client, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    client.force_login(cast.ines)
    for count in (3, 27):
        for _ in range(count):
            record_thickness(cast.ines, **sent(cast))
        with django_assert_max_num_queries(6):
            assert client.get(THICKNESS, {"page_size": 50}).status_code == 200


def test_what_is_foreign_is_404_in_the_address_and_in_the_body(
    cast: Cast, send: Callable[..., Any], client: Client
) -> None:
    theirs, _ = record_thickness(cast.igor, **sent(cast, site=cast.foreign))
    answer = send(THICKNESS, thickness(cast, area=str(cast.foreign.area.pk), coat=str(new_id())))
    assert answer.status_code == 404
    assert {fault["field"] for fault in answer.json()["errors"]} == {"area", "coat"}
    assert client.get(f"{THICKNESS}{theirs.pk}/").status_code == 404
    assert send(THICKNESS, thickness(cast, replaces=str(theirs.pk), replacement_reason="mine")).status_code == 404
    assert str(theirs.pk) not in client.get(THICKNESS).content.decode()


def test_the_client_reads_but_does_not_record(cast: Cast, send: Callable[..., Any], client: Client) -> None:
    record, _ = record_thickness(cast.ines, **sent(cast))
    assert send(THICKNESS, thickness(cast), by=cast.clara).status_code == 403
    assert send(CLIMATE, climate(cast), by=cast.clara).status_code == 403
    assert client.get(f"{THICKNESS}{record.pk}/").status_code == 200
    client.force_login(cast.carl)
    assert client.get(f"{THICKNESS}{record.pk}/").status_code == 404


def test_nobody_signed_in_gets_401(cast: Cast, client: Client) -> None:
    for address in (THICKNESS, CLIMATE, "/api/calculations/"):
        assert client.get(address).status_code == 401


# --- calculations -----------------------------------------------------------------------------------------------------
def test_a_calculation_answers_with_its_sources(cast: Cast, send: Callable[..., Any]) -> None:
    answer = send("/api/calculations/dew-point", {"dry_bulb_c": 20.0, "wet_bulb_c": 15.0, "surface_c": 18.0})
    assert answer.status_code == 200
    # WMO-No. 8, Magnus constants over water, psychrometer coefficient 0.000662.
    assert answer.json()["dew_point_c"] == pytest.approx(11.63, abs=0.02)
    assert answer.json()["sources"][0]["standard"] == "WMO-No. 8"


def test_a_calculation_names_each_wrong_input(cast: Cast, send: Callable[..., Any]) -> None:
    answer = send("/api/calculations/dft-pa2", {"minimum_um": -1, "spots_um": [[80, "x"]], "colour": "red"})
    assert answer.status_code == 422
    assert {fault["field"] for fault in answer.json()["errors"]} == {"minimum_um", "spots_um[0][1]", "colour"}
    assert send("/api/calculations/dft-pa2", [1]).status_code == 422
    assert send("/api/calculations/dft-pa3", {}).status_code == 404


def test_every_calculation_is_listed_with_an_example_that_it_accepts(
    cast: Cast, send: Callable[..., Any], client: Client
) -> None:
    client.force_login(cast.audrey)
    listed = client.get("/api/calculations/").json()
    assert len(listed) >= 30
    for calculation in listed:
        answer = send(f"/api/calculations/{calculation['name']}", calculation["example"])
        assert answer.status_code == 200, (calculation["name"], answer.content)


def test_a_long_record_is_read_window_by_window_and_no_reading_is_missed(cast: Cast, client: Client) -> None:
    values = [80_000 + number for number in range(2_300)]
    readings = [ReadingSent(number // 3 + 1, number % 3 + 1, value) for number, value in enumerate(values)]
    record, _ = record_thickness(cast.ines, **sent(cast, readings=readings))
    client.force_login(cast.ines)
    address, found, sizes = f"{THICKNESS}{record.pk}/", [], []
    while address:
        answer = client.get(address)
        body = answer.json()
        sizes.append(len(body["readings"]))
        found += [round(reading["value_um"] * 1000) for reading in body["readings"]]
        assert len(answer.content) < 250_000
        assert body["reading_count"] == 2_300
        address = body["readings_next"]
    assert sizes == [1_000, 1_000, 300]
    assert found == values
    assert client.get(f"{THICKNESS}{record.pk}/?readings_from=-1").status_code == 422
    client.force_login(cast.igor)
    assert client.get(f"{THICKNESS}{record.pk}/?readings_from=1000").status_code == 404
