"""What cannot be read is refused with a sentence, on both databases alike; nothing sent makes a fault of ours."""

from __future__ import annotations

import base64
import json
from typing import Any
from wsgiref.util import setup_testing_defaults

import pytest
from django.conf import settings
from django.core import signing
from django.test import Client
from django.test.client import ClientHandler

from accounts import actions
from config.wsgi import application
from inspection.foundation.ids import new_id
from inspection.foundation.readable import survives_charsets
from tests.cast import Cast

NUL = "U+0000"


@pytest.fixture
def quinn(cast: Cast) -> Client:
    client = Client()
    client.raise_request_exception = False
    client.force_login(cast.quinn)
    return client


ADDRESSES = (
    "/i/G%001", "/i/%00", "/journal/?verb=%00", "/calculators/?q=%00", "/thickness/?%00=1",
    "/climate/?project=a%00b",
        "/hold-points/?area=%00", "/instruments/?words=%00", "/trace/?words=%00", "/reports/?project=%00",
)  # fmt: skip


def test_nul_in_the_address_of_a_page_is_refused_with_a_sentence(quinn: Client) -> None:
    for address in ADDRESSES:
        answer = quinn.get(address)
        assert (address, answer.status_code) == (address, 400)
        assert NUL in answer.content.decode()


@pytest.mark.parametrize("address", ["/invitation/%00/", "/calendar/%00.ics", "/sign-in/?next=%00"])
def test_nul_in_an_address_open_to_strangers_is_refused(db: None, client: Client, address: str) -> None:
    client.raise_request_exception = False
    answer = client.get(address)
    assert answer.status_code in {400, 404}


def test_nul_in_what_a_form_sends_is_refused_and_its_field_named(quinn: Client) -> None:
    answer = quinn.post("/reports/check/", {"digest": "ab\x00"})
    assert answer.status_code == 400
    assert "“digest” holds the character NUL" in answer.content.decode()


@pytest.mark.parametrize("address", ["/api/gauges/?identity=%00", "/api/tokens/%00/", "/api/thickness/?cursor=%00"])
def test_nul_in_an_address_of_the_api_is_a_problem_that_says_so(quinn: Client, address: str) -> None:
    answer = quinn.delete(address) if "tokens" in address else quinn.get(address)
    assert (answer.status_code, answer["Content-Type"]) == (400, "application/problem+json")
    assert NUL in answer.json()["detail"]


def test_nul_anywhere_in_json_is_refused_at_its_place(quinn: Client) -> None:
    sent = {"name": "dew_point", "inputs": [{"a\x00b": 1}, "x\x00"]}
    answer = quinn.post("/api/tokens/", json.dumps(sent), "application/json")
    assert answer.status_code == 422
    assert [error["field"] for error in answer.json()["errors"]] == ["inputs[0].ab", "inputs[1]"]


@pytest.mark.parametrize("cookie", [settings.SESSION_COOKIE_NAME, "messages", settings.CSRF_COOKIE_NAME])
def test_a_cookie_that_holds_nul_is_nobodys(db: None, client: Client, cookie: str) -> None:
    client.raise_request_exception = False
    answer = client.get("/", headers={"Cookie": f'{cookie}="abcdefgh\\000ijklmnop"'})
    assert answer.status_code == 302


@pytest.mark.parametrize("token", ["sc_\x00", "\x00" * 40, "sc_" + "x" * 9000, "sc_\xff"])
def test_a_token_of_nonsense_is_not_valid(db: None, client: Client, token: str) -> None:
    client.raise_request_exception = False
    answer = client.get("/api/me/", headers={"Authorization": f"Bearer {token}"})
    assert (answer.status_code, answer["Content-Type"]) == (401, "application/problem+json")


def through_wsgi(address: str, content_type: str) -> tuple[int, str]:
    """Status and body as the server gets them: a request that ends while it is made is no answer."""
    environ: dict[str, Any] = {"CONTENT_TYPE": content_type, "QUERY_STRING": "a=b"}
    setup_testing_defaults(environ)
    environ |= {"PATH_INFO": address, "HTTP_HOST": "localhost", "wsgi.url_scheme": "https"}
    answer = survives_charsets(lambda environ, start_response: ClientHandler()(environ))(environ, None)
    return answer.status_code, answer.content.decode()


def test_only_utf_8_is_read(db: None) -> None:
    for charset in ("hex", "utf-16", "base64", "punycode", "rot13", "latin-1", "no-such-set", "\x00"):
        for address in ("/sign-in/", "/api/thickness/"):
            status, body = through_wsgi(address, f"text/plain; charset={charset}")
            assert (charset, status) == (charset, 400)
            assert "Send this in UTF-8" in body
    for charset in ("utf-8", "UTF8", "us-ascii"):
        assert through_wsgi("/sign-in/", f"text/plain; charset={charset}")[0] in {200, 302}
    assert application.__qualname__.startswith("survives_charsets"), "the served application is not wrapped"


NOT_TO_BE_KEPT = (
    (b'{"a": 1, "a": 2}', "“a” stands twice"),
    (b'{"a": NaN}', "NaN is not a JSON number"),
    (b'{"a": -Infinity}', "-Infinity is not a JSON number"),
    (b'{"a": 1e999}', "the number 1e999 is too large"),
    (b'{"a": ' + b"9" * 5000 + b"}", "not JSON"),
    (b'{"a": "\xff"}', "UTF-8"),
    (b'{"a": "\\ud800"}', "UTF-8"),
    (b"[" * 100_000, "nested too deeply"),
)


def test_json_that_could_not_be_kept_as_sent_is_refused(quinn: Client) -> None:
    for body, told in NOT_TO_BE_KEPT:
        answer = quinn.post("/api/tokens/", body, "application/json")
        assert (told, answer.status_code, answer["Content-Type"]) == (told, 400, "application/problem+json")
        assert told in answer.json()["detail"]


# --- cursors --------------------------------------------------------------------------------------------------------
def made_up(place: str) -> str:
    return base64.b64encode(f"p={place}".encode()).decode()


def test_a_cursor_that_the_list_did_not_give_out_is_refused(quinn: Client) -> None:
    for address in ("/api/thickness/", "/api/tokens/", "/api/gauges/", "/api/reports/"):
        for cursor in (made_up("abc"), made_up("\x01"), made_up("9999-99-99"), "nonsense", "", "é"):
            answer = quinn.get(address, {"cursor": cursor})
            assert (address, cursor, answer.status_code) == (address, cursor, 422)
            assert [error["field"] for error in answer.json()["errors"]] == ["cursor"]


def test_a_signed_cursor_leads_through_the_list_and_through_no_other(cast: Cast, quinn: Client) -> None:
    for number in range(5):
        actions.make_token(cast.quinn, name=f"T{number}", days=1)
    seen: list[str] = []
    address: Any = "/api/tokens/?page_size=2"
    while address:
        page = quinn.get(address).json()
        seen += [token["name"] for token in page["results"]]
        last, address = address, page["next"]
    assert seen == ["T4", "T3", "T2", "T1", "T0"]
    back = quinn.get(quinn.get(last).json()["previous"]).json()
    assert [token["name"] for token in back["results"]] == ["T2", "T1"]
    other = quinn.get("/api/gauges/?" + last.partition("?")[2])
    assert other.status_code == 422
    forged = signing.Signer(salt="another").sign(made_up("abc"))
    assert quinn.get("/api/tokens/", {"cursor": forged}).status_code == 422


# --- the schema -----------------------------------------------------------------------------------------------------
def test_the_schema_is_the_same_whatever_its_query_says(db: None, client: Client) -> None:
    client.raise_request_exception = False
    plain = client.get("/api/schema/")
    for query in ("version=%0d%0aSet-Cookie:a=b", "version=a%0ab", "lang=%0a"):
        answer = client.get(f"/api/schema/?{query}")
        assert (query, answer.status_code) == (query, 200)
        assert answer["Content-Disposition"] == plain["Content-Disposition"]
        assert answer.content == plain.content


def test_an_id_of_nothing_is_still_a_404(quinn: Client) -> None:
    for address in (f"/thickness/{new_id()}/", "/journal/" + "9" * 40 + "/", "/thickness/%ff%fe/", "/i/%ff%fe"):
        assert quinn.get(address).status_code == 404
