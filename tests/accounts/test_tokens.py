"""API tokens: shown once, kept as a digest, expiring, revocable; and the frame every API address stands in."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
import time_machine
from django.conf import settings
from django.test import Client
from django.utils import timezone

from accounts import actions
from accounts.models import ApiToken, JournalEntry
from tests.cast import Cast

PROBLEM = "application/problem+json"


def bearer(text: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {text}"}


@pytest.fixture
def token(cast: Cast) -> str:
    return actions.make_token(cast.ines, name="laptop", days=30)[1]


def test_a_token_signs_in_as_its_person(cast: Cast, client: Client, token: str) -> None:
    answer = client.get("/api/me/", headers=bearer(token))
    assert answer.json() == {
        "id": str(cast.ines.pk), "name": "Ines Inspector", "email": "ines@example.com",
        "organisation": "The Company", "roles": ["inspector"],
    }  # fmt: skip


def test_a_token_is_kept_only_as_a_digest(cast: Cast, token: str) -> None:
    row = ApiToken.objects.get()
    assert token.startswith("sc_")
    assert len(token) > 60
    assert token not in (row.digest, row.token_key)
    assert token[len(row.token_key) :] not in json.dumps(list(JournalEntry.objects.values("before", "after")))


def test_an_expired_token_is_refused(client: Client, token: str) -> None:
    with time_machine.travel(timezone.now() + timedelta(days=30, seconds=1)):
        answer = client.get("/api/me/", headers=bearer(token))
    assert (answer.status_code, answer["Content-Type"]) == (401, PROBLEM)
    assert answer["WWW-Authenticate"] == "Bearer"


def test_a_person_makes_a_token_on_their_page_sees_it_once_and_revokes_it(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)
    page = client.post("/me/tokens/new/", {"name": "gauge upload", "days": "10"}).content.decode()
    text = page.split('value="sc_')[1].split('"')[0]
    assert Client().get("/api/me/", headers=bearer(f"sc_{text}")).status_code == 200
    listed = client.get("/me/").content.decode()
    assert "gauge upload" in listed
    assert text not in listed
    key = ApiToken.objects.get().token_key
    client.post(f"/me/tokens/{key}/revoke/")
    assert Client().get("/api/me/", headers=bearer(f"sc_{text}")).status_code == 401
    assert client.post(f"/me/tokens/{key}/revoke/").status_code == 404


def test_a_token_lists_and_revokes_tokens_and_only_a_signed_in_person_makes_one(
    cast: Cast, client: Client, token: str
) -> None:
    wanted = {"name": "second", "days": 3}
    refused = client.post("/api/tokens/", wanted, "application/json", headers=bearer(token))
    assert (refused.status_code, "A token cannot make tokens" in refused.content.decode()) == (403, True)
    assert ApiToken.objects.count() == 1
    person = Client()
    person.force_login(cast.ines)
    made = person.post("/api/tokens/", wanted, "application/json")
    assert made.status_code == 201
    second = made.json()["token"]
    listed = client.get("/api/tokens/", headers=bearer(second)).json()["results"]
    assert [row["name"] for row in listed] == ["second", "laptop"]
    assert all("token" not in row for row in listed)
    assert client.delete(f"/api/tokens/{made.json()['key']}/", headers=bearer(token)).status_code == 204
    assert client.get("/api/me/", headers=bearer(second)).status_code == 401


@pytest.mark.parametrize(
    ("sent", "field", "message"),
    [
        ({"name": "x", "days": 0}, "days", "greater than or equal to 1"),
        ({"name": "x", "days": 367}, "days", "less than or equal to 366"),
        ({"name": "x", "days": "soon"}, "days", "integer"),
        ({"name": "laptop", "days": 3}, "name", "already have a token"),
        ({"name": "", "days": 3}, "name", "blank"),
        ({"name": "x\x00", "days": 3}, "name", "Null characters"),
        ({"days": 3}, "name", "required"),
        ({"name": "x", "dyas": 3}, "dyas", "There is no such field; this takes days, name."),
    ],
)
def test_a_wrong_token_request_names_its_field(
    cast: Cast, client: Client, token: str, sent: dict[str, object], field: str, message: str
) -> None:
    client.force_login(cast.ines)
    answer = client.post("/api/tokens/", sent, "application/json")
    assert (answer.status_code, answer["Content-Type"]) == (422, PROBLEM)
    (fault,) = answer.json()["errors"]
    assert fault["field"] == field
    assert message in fault["message"]
    assert ApiToken.objects.count() == 1


def test_a_person_holds_at_most_twenty_tokens(cast: Cast, client: Client, token: str) -> None:
    for number in range(19):
        actions.make_token(cast.ines, name=f"token {number}", days=1)
    client.force_login(cast.ines)
    answer = client.post("/api/tokens/", {"name": "one more"}, "application/json")
    assert answer.status_code == 422
    assert "revoke one you no longer use" in answer.json()["detail"]


@pytest.mark.parametrize("header", ["Bearer", "Bearer wrong", "Bearer two words", "Bearer \u00ff\u00fe", "Basic abc"])
def test_a_header_that_is_no_token_is_401_with_a_problem(client: Client, db: None, header: str) -> None:
    answer = client.get("/api/me/", headers={"Authorization": header})
    assert (answer.status_code, answer["Content-Type"]) == (401, PROBLEM)
    assert answer.json()["type"] == "/api/problems/not-signed-in/"


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"{", 400),
        (b"\xff\xfe", 400),
        (b'{"name": NaN}', 400),
        (b'{"name": "\\ud800"}', 400),
        (b"[" * 100_000, 400),
        (b'{"days": ' + b"9" * 5_000 + b"}", 400),
        (b"[]", 422),
        (b"3", 422),
        (b'"text"', 422),
        (b"null", 422),
    ],
)
def test_a_body_that_is_not_what_it_should_be_is_a_problem_never_a_crash(
    client: Client, token: str, body: bytes, status: int
) -> None:
    answer = client.generic("POST", "/api/tokens/", body, "application/json", headers=bearer(token))
    assert (answer.status_code, answer["Content-Type"]) == (status, PROBLEM)


def test_a_body_over_the_limit_is_413(client: Client, token: str) -> None:
    body = b'{"name": "' + b"x" * settings.API_MAX_BYTES + b'"}'
    answer = client.generic("POST", "/api/tokens/", body, "application/json", headers=bearer(token))
    assert (answer.status_code, answer["Content-Type"]) == (413, PROBLEM)
    assert "256 kB" in answer.json()["detail"]


def test_another_media_type_method_or_address_is_a_problem(client: Client, token: str) -> None:
    answers = {
        415: client.post("/api/tokens/", "a=b", "application/x-www-form-urlencoded", headers=bearer(token)),
        405: client.put("/api/tokens/", "{}", "application/json", headers=bearer(token)),
        404: client.get("/api/nowhere/", headers=bearer(token)),
        406: client.get("/api/me/", headers={**bearer(token), "Accept": "image/png"}),
    }
    for status, answer in answers.items():
        assert (answer.status_code, answer["Content-Type"], answer.json()["status"]) == (status, PROBLEM, status)
    assert answers[405]["Allow"] == "GET, POST, HEAD, OPTIONS"


def test_every_type_of_problem_has_a_page_that_explains_it(client: Client, db: None) -> None:
    from inspection.foundation.problems import CATALOGUE

    for kind in CATALOGUE.values():
        page = client.get(f"/api/problems/{kind.name}/")
        assert page.status_code == 200
        assert kind.title in page.content.decode()
    assert client.get("/api/problems/unheard-of/").status_code == 404


def test_a_session_needs_the_csrf_token_to_write(cast: Cast) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.ines)
    answer = client.post("/api/tokens/", {"name": "x"}, "application/json")
    assert (answer.status_code, answer["Content-Type"]) == (403, PROBLEM)


def test_a_stranger_sees_and_revokes_nobody_elses_tokens(cast: Cast, client: Client, token: str) -> None:
    client.force_login(cast.igor)
    assert client.get("/api/tokens/").json()["results"] == []
    key = ApiToken.objects.get().token_key
    assert client.delete(f"/api/tokens/{key}/").status_code == 404
    assert client.post(f"/me/tokens/{key}/revoke/").status_code == 404
    assert ApiToken.objects.exists()
