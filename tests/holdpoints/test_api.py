"""Hold points for programs: the same right, the same sight, the same words."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from inspection.holdpoints.models import Decision
from tests.cast import PASSWORD, Cast
from tests.holdpoints.scene import a_point, sound_record
from tests.standing.scene import measure


@pytest.fixture(autouse=True)
def _days_later() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 3, 9, 12, 0, tzinfo=UTC), tick=False):
        yield


def send(client: Client, name: str, pk: Any, **body: str) -> Any:
    return client.post(reverse(name, args=[pk]), json.dumps(body), content_type="application/json")


def test_a_program_reads_the_evidence_and_releases_with_its_owners_password(cast: Cast, client: Client) -> None:
    point, record = a_point(cast), sound_record(cast)
    client.force_login(cast.clara)
    shown = client.get(reverse("api_point", args=[point.pk])).json()
    assert (shown["place"], shown["record"]) == ("ready", str(record.pk))
    assert shown["evidence"]["releasable"] is True
    assert shown["evidence"]["standing"] == "sound"
    answer = send(client, "api_point_release", point.pk, password="guess", evidence_digest=shown["evidence"]["digest"])
    assert (answer.status_code, answer.json()["errors"][0]["field"]) == (422, "password")
    answer = send(client, "api_point_release", point.pk, password=PASSWORD, evidence_digest="0" * 64)
    assert answer.status_code == 409
    answer = send(client, "api_point_release", point.pk, password=PASSWORD, evidence_digest=shown["evidence"]["digest"])
    assert (answer.status_code, answer.json()["signed_as"]) == (201, "Clara Client, Owner One")
    assert client.get(reverse("api_point", args=[point.pk])).json()["decisions"][0]["outcome"] == "released"


def test_a_refusal_needs_a_reason_and_unknown_fields_are_named(cast: Cast, client: Client) -> None:
    point, _ = a_point(cast), sound_record(cast)
    client.force_login(cast.clara)
    answer = send(client, "api_point_refuse", point.pk, password=PASSWORD, evidence_digest="0" * 64, why="x")
    assert {error["field"] for error in answer.json()["errors"]} >= {"why"}
    assert not Decision.objects.exists()


def test_the_list_narrows_and_shows_ones_own_points_only(cast: Cast, client: Client) -> None:
    own, _ = a_point(cast), a_point(cast, site=cast.foreign)
    client.force_login(cast.clara)
    listed = client.get(reverse("api_point_list")).json()["results"]
    assert [row["id"] for row in listed] == [str(own.pk)]
    assert client.get(reverse("api_point_list"), {"place": "ready"}).json()["results"] == []
    assert client.get(reverse("api_point_list"), {"place": "x"}).status_code == 422
    client.force_login(cast.carl)
    assert client.get(reverse("api_point", args=[own.pk])).status_code == 404
    answer = send(client, "api_point_release", own.pk, password=PASSWORD, evidence_digest="0" * 64)
    assert answer.status_code == 404


def test_nonconformances_are_listed_with_the_measurement_that_raised_them(cast: Cast, client: Client) -> None:
    record = measure(cast, "09:00", "09:40", verdict="fail")
    client.force_login(cast.clara)
    (row,) = client.get(reverse("api_nonconformance_list"), {"state": "open"}).json()["results"]
    assert (row["number"], row["record"], row["area_code"]) == (1, str(record.pk), "A1")
    assert client.get(reverse("api_nonconformance_list"), {"state": "ajar"}).status_code == 422
    client.force_login(cast.carl)
    assert client.get(reverse("api_nonconformance", args=[row["id"]])).status_code == 404


def test_a_program_presents_again_takes_a_refusal_back_and_puts_planning_right(cast: Cast, client: Client) -> None:
    point, _ = a_point(cast), sound_record(cast)
    client.force_login(cast.clara)
    digest = client.get(reverse("api_point", args=[point.pk])).json()["evidence"]["digest"]
    send(client, "api_point_refuse", point.pk, password=PASSWORD, evidence_digest=digest, reason="Dust")
    back = send(client, "api_point_unrefuse", point.pk, password="guess", reason="Wrong point")
    assert (back.status_code, back.json()["errors"][0]["field"]) == (422, "password")
    back = send(client, "api_point_unrefuse", point.pk, password=PASSWORD, reason="Wrong point")
    assert (back.status_code, back.json()["outcome"]) == (201, "withdrawn")
    digest = client.get(reverse("api_point", args=[point.pk])).json()["evidence"]["digest"]
    send(client, "api_point_refuse", point.pk, password=PASSWORD, evidence_digest=digest, reason="Dust")
    client.force_login(cast.ines)
    assert send(client, "api_point_present", point.pk, note="Washed", reworked_by="Crew").status_code == 422
    again = send(client, "api_point_present", point.pk, note="Washed")
    assert (again.status_code, again.json()["outcome"]) == (201, "presented")
    assert send(client, "api_point_rename", point.pk, title="Primer").status_code == 403
    client.force_login(cast.quinn)
    renamed = send(client, "api_point_rename", point.pk, title="Primer").json()
    assert (renamed["title"], renamed["place"]) == ("Primer", "unready")
    assert send(client, "api_point_remove", point.pk, reason="twice").status_code == 409
    assert send(client, "api_point_close", point.pk, reason="not asked for").json()["outcome"] == "closed"
    assert send(client, "api_point_reopen", point.pk, reason="asked for").json()["outcome"] == "presented"
    other = a_point(cast, coat=1)
    assert send(client, "api_point_remove", other.pk, reason="twice").status_code == 204
    assert client.get(reverse("api_point", args=[other.pk])).status_code == 404


def test_a_program_records_rework_and_a_concession_and_takes_them_back(cast: Cast, client: Client) -> None:
    measure(cast, "09:00", "09:40", verdict="fail")
    client.force_login(cast.ines)
    (row,) = client.get(reverse("api_nonconformance_list"), {"state": "open"}).json()["results"]
    done = {"what": "Second coat", "done_by": "Crew 2"}
    naive = send(client, "api_nonconformance_rework", row["id"], **done, done_at="2026-03-05T10:00")
    assert naive.json()["errors"][0]["field"] == "done_at"
    entry = send(client, "api_nonconformance_rework", row["id"], **done, done_at="2026-03-05T10:00:00Z")
    assert (entry.status_code, entry.json()["kind"]) == (201, "rework")
    twice = send(client, "api_nonconformance_rework", row["id"], **done, done_at="2026-03-05T10:00:00Z")
    assert twice.json()["id"] == entry.json()["id"]
    taken = send(client, "api_disposition_take_back", entry.json()["id"], reason="another area")
    assert (taken.status_code, taken.json()["withdraws"]) == (201, entry.json()["id"])
    assert send(client, "api_nonconformance_concede", row["id"], reason="ok", password=PASSWORD).status_code == 403
    client.force_login(cast.clara)
    given = send(client, "api_nonconformance_concede", row["id"], reason="Sealed over", password=PASSWORD)
    assert (given.status_code, given.json()["signed_as"]) == (201, "Clara Client, Owner One")
    assert client.get(reverse("api_nonconformance", args=[row["id"]])).json()["state"] == "closed"
    assert send(client, "api_disposition_take_back", given.json()["id"], reason="not ours").status_code == 201
    assert client.get(reverse("api_nonconformance", args=[row["id"]])).json()["state"] == "open"
    client.force_login(cast.carl)
    assert send(client, "api_disposition_take_back", given.json()["id"], reason="x").status_code == 404
