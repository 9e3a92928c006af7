"""What the API takes of one person and one token in a time, and how large a request may be."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.test import Client

from accounts import actions, throttles
from accounts.models import ApiToken, Person
from inspection.foundation.cache import JsonFiles
from tests.cast import Cast

ME, CLIMATE, CALCULATION = "/api/me/", "/api/climate/", "/api/calculations/dew-point"
AWAY = {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": "redis://127.0.0.1:1/0"}


@pytest.fixture(autouse=True)
def _nothing_counted_here() -> Iterator[None]:
    yield
    throttles.here = throttles.OfThisProcess()


def with_token(person: Person, name: str = "laptop") -> Client:
    return Client(headers={"Authorization": f"Bearer {actions.make_token(person, name=name, days=1)[1]}"})


def send(client: Client, address: str = CLIMATE, body: Any = None) -> Any:
    return client.post(address, body or {}, content_type="application/json")


def test_beyond_the_limit_the_answer_says_how_long_to_wait_and_reading_goes_on(
    cast: Cast, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.API_LIMITS = settings.API_LIMITS | {"write": {300: 3, 86_400: 5}}
    client, at = with_token(cast.ines), 1_700_000_100.0
    monkeypatch.setattr(throttles, "now", lambda: at)
    assert [send(client).status_code for _ in range(4)] == [422, 422, 422, 429]
    answer = send(client)
    assert answer["Content-Type"] == "application/problem+json"
    assert int(answer["Retry-After"]) == 300 - 1_700_000_100 % 300
    assert answer.json()["type"] == "/api/problems/too-many/"
    assert "More than 3 records and changes in 5 minutes. Nothing of this request was stored" in answer.json()["detail"]
    assert client.get(ME).status_code == 200
    assert send(with_token(cast.quinn)).status_code == 422, "another person"
    at += int(answer["Retry-After"])
    assert [send(client).status_code for _ in range(2)] == [422, 422]
    assert "More than 5 records and changes in a day" in send(client).json()["detail"]


def test_a_person_with_many_tokens_has_twice_the_limit_of_one_and_no_more(cast: Cast, settings: Any) -> None:
    settings.API_LIMITS = settings.API_LIMITS | {"read": {86_400: 2}}
    one, other, third = (with_token(cast.ines, name) for name in "abc")
    assert [client.get(ME).status_code for client in (one, one, one, other, other)] == [200, 200, 429, 200, 429]
    assert third.get(ME).status_code == 429, "nothing is left for a further token"
    assert with_token(cast.quinn).get(ME).status_code == 200


def test_a_day_kept_offline_goes_through_at_once(cast: Cast) -> None:
    # 743 records were made in one day by one crew.
    asked: Any = SimpleNamespace(method="POST", user=cast.ines, auth=ApiToken(token_key="sc_12345"))
    for _ in range(742):
        throttles.ByPersonAndToken().allow_request(asked, None)
    assert send(with_token(cast.ines)).status_code == 422


def test_calculations_are_limited_in_number_and_in_size(cast: Cast, settings: Any) -> None:
    settings.API_LIMITS = settings.API_LIMITS | {"calculation": {86_400: 3}}
    client = with_token(cast.ines)
    large = {"minimum_um": 60, "nominal_um": 80, "readings_um": [80.5] * 700_000}
    answer = send(client, "/api/calculations/dft-iso19840", large)
    assert answer.status_code == 413
    assert answer.json()["detail"] == "A request to this address holds at most 128 kB. Send less at once."
    body = {"dry_bulb_c": 20.0, "wet_bulb_c": 15.0, "surface_c": 18.0}
    assert [send(client, CALCULATION, body).status_code for _ in range(3)] == [200, 200, 429]


def test_each_address_takes_what_its_records_need(cast: Cast) -> None:
    client = with_token(cast.ines)
    answer = send(client, CLIMATE, {"note": "x" * 300_000})
    assert (answer.status_code, "at most 256 kB" in answer.json()["detail"]) == (413, True)
    assert send(client, "/api/thickness/", {"note": "x" * 300_000}).status_code == 422


def test_while_the_cache_is_away_the_limit_holds_and_nobody_waits(cast: Cast, settings: Any) -> None:
    settings.API_LIMITS = settings.API_LIMITS | {"read": {86_400: 3}}
    settings.CACHES = {"default": AWAY}
    client, began = with_token(cast.ines), time.monotonic()
    assert [client.get(ME).status_code for _ in range(4)] == [200, 200, 200, 429]
    assert time.monotonic() - began < 5


def test_the_cache_of_files_counts_each_once_and_forgets_when_it_was_told_to(tmp_path: Path) -> None:
    cache = JsonFiles(str(tmp_path), {})
    assert cache.add("count", 0, 3600)
    ends = json.loads(next(tmp_path.glob("*.djcache")).read_bytes().split(b"\n")[0])
    with ThreadPoolExecutor(8) as people:
        list(people.map(lambda _: cache.incr("count"), range(120)))
    assert cache.get("count") == 120
    assert json.loads(next(tmp_path.glob("*.djcache")).read_bytes().split(b"\n")[0]) == pytest.approx(ends, abs=0.1)
    assert not cache.add("count", 0, 3600)
    with pytest.raises(ValueError, match="not found"):
        cache.incr("nothing")
