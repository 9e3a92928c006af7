"""Guessing at passwords: strangers are slowed down, known devices are not shut out, no try is lost, all is journalled.

The device cookie follows OWASP, "Slow down online guessing attacks with device cookies" (from memory).
"""

from __future__ import annotations

import json
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client, override_settings
from django.utils import timezone

from accounts import guessing
from accounts.models import ApiToken, Guesses, JournalEntry
from inspection.foundation.refusals import Refused
from inspection.holdpoints import actions as decisions
from reports.attention import calendar
from tests import cast as casting
from tests.cast import PASSWORD, Cast
from tests.holdpoints.scene import a_point, signed, sound_record

NEW = "quite another passphrase"
NO_CACHE = {"default": {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": "redis://127.0.0.1:9/0"}}


def sign_in(client: Client, email: str, password: str) -> Any:
    return client.post("/sign-in/", {"login": email, "password": password})


def entries(verb: str) -> list[JournalEntry]:
    return list(JournalEntry.objects.filter(verb=verb).order_by("pk"))


def test_a_stranger_who_guesses_slows_down_strangers_and_not_the_person_on_their_own_device(cast: Cast) -> None:
    own, stranger = Client(), Client()
    with time_machine.travel("2026-03-04T07:00:00Z", tick=False) as clock:
        assert sign_in(own, cast.ines.email, PASSWORD).status_code == 302
        own.post("/sign-out/")
        for _ in range(40):
            sign_in(stranger, cast.ines.email, "a guess")
        assert "Wait a minute" in sign_in(Client(), cast.ines.email, PASSWORD).content.decode()
        assert sign_in(own, cast.ines.email, PASSWORD).status_code == 302
        # The pause grows, and never beyond a quarter of an hour: nobody is shut out for good.
        waits = []
        for _ in range(6):
            clock.shift(15 * 60 + 1)
            sign_in(stranger, cast.ines.email, "a guess")
            waits.append(sign_in(Client(), cast.ines.email, PASSWORD).content.decode())
        assert "Wait 2 minutes" in waits[0]
        assert "Wait 15 minutes" in waits[-1]
        clock.shift(15 * 60 + 1)
        assert sign_in(Client(), cast.ines.email, PASSWORD).status_code == 302


def test_a_known_device_is_slowed_down_too_and_is_known_for_its_own_people_only(cast: Cast) -> None:
    device = Client()
    sign_in(device, cast.ines.email, PASSWORD)
    device.post("/sign-out/")
    for _ in range(5):
        sign_in(device, cast.ines.email, "a guess")
        sign_in(device, cast.igor.email, "a guess")
    assert "Too many wrong passwords" in sign_in(device, cast.ines.email, PASSWORD).content.decode()
    assert sign_in(Client(), cast.ines.email, PASSWORD).status_code == 302
    assert "Too many wrong passwords" in sign_in(Client(), cast.igor.email, PASSWORD).content.decode()


def test_one_address_that_tries_many_people_is_slowed_down_and_a_good_sign_in_buys_it_nothing(cast: Cast) -> None:
    stranger = Client()
    for number in range(30):
        sign_in(stranger, f"person{number}@example.com", "a guess")
        if number == 15:
            assert sign_in(Client(), cast.igor.email, PASSWORD).status_code == 302
    assert "Too many wrong passwords" in sign_in(stranger, cast.ines.email, "a guess").content.decode()


def test_signing_in_and_signing_go_on_while_the_cache_is_away_and_are_counted(cast: Cast) -> None:
    client = Client()
    with override_settings(CACHES=NO_CACHE):
        for _ in range(5):
            assert sign_in(client, cast.ines.email, "a guess").status_code == 200
        assert "Too many wrong passwords" in sign_in(client, cast.ines.email, PASSWORD).content.decode()
        assert sign_in(client, cast.clara.email, PASSWORD).status_code == 302
        assert client.post("/password/", {"email": cast.clara.email}).status_code == 302


def _at_once(deed: Callable[[], Any], times: int) -> list[Any]:
    def run(_: int) -> Any:
        try:
            return deed()
        except Refused as refusal:
            return refusal
        finally:
            connection.close()

    with ThreadPoolExecutor(8) as pool:
        return list(pool.map(run, range(times)))


def test_who_comes_second_within_a_millisecond_is_not_taken_for_somebody_who_guesses(cast: Cast) -> None:
    door, first = guessing.founding_from("203.0.113.7"), timezone.now()
    assert guessing.take(door, at=first) is None
    assert guessing.take(door, at=first - timedelta(milliseconds=1)) is None
    for _ in range(8):
        assert guessing.take(door, at=first) is None
    assert guessing.take(door, at=first - timedelta(milliseconds=1)) is not None


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_of_forty_guesses_at_once_five_are_looked_at() -> None:
    cast = casting.cast()

    def guess() -> str:
        return sign_in(Client(), cast.ines.email, "a guess").content.decode()

    pages = _at_once(guess, 40)
    assert sum("is not right" in page for page in pages) == 5
    assert sum("Too many wrong passwords" in page for page in pages) == 35

    point, _ = a_point(cast), sound_record(cast)
    wrong = {**signed(point), "password": "a guess"}
    ends = _at_once(lambda: decisions.release(cast.clara, **wrong), 40)
    assert sum("not your password" in str(end) for end in ends) == 5
    assert sum("Wait" in str(end) for end in ends) == 35
    assert len(entries("password.wrong")) == 5


def test_sign_ins_good_and_bad_sign_outs_and_asked_for_links_are_journalled(cast: Cast, client: Client) -> None:
    sign_in(client, cast.ines.email, "a guess")
    sign_in(client, "someone.unknown@example.org", "hunter2 typed in the wrong place")
    sign_in(client, cast.ines.email, PASSWORD)
    client.post("/sign-out/")
    client.post("/password/", {"email": cast.ines.email})
    known, unknown = entries("sign_in.failed")
    assert (known.object_id, known.actor) == (str(cast.ines.pk), None)
    assert [entry.actor for entry in entries("sign_in.done") + entries("sign_out.done")] == [cast.ines, cast.ines]
    assert [entry.object_id for entry in entries("person.reset_asked")] == [str(cast.ines.pk)]
    kept = json.dumps([list(JournalEntry.objects.values()), list(Guesses.objects.values())], default=str)
    for typed in ("someone.unknown", "example.org", "hunter2", "a guess", PASSWORD):
        assert typed not in kept
    assert unknown.object_type == "accounts.guesses"


def test_a_wrong_password_under_a_decision_is_journalled_in_the_project(cast: Cast) -> None:
    point, _ = a_point(cast), sound_record(cast)
    with pytest.raises(Refused, match="not your password"):
        decisions.release(cast.clara, **{**signed(point), "password": "a guess"})
    (entry,) = entries("password.wrong")
    assert (entry.actor, entry.project_id) == (cast.clara, cast.site.project.pk)
    manager, stranger = Client(), Client()
    manager.force_login(cast.quinn)
    assert "password wrong" in manager.get("/journal/").content.decode().lower()
    stranger.force_login(cast.ines)
    assert stranger.get("/journal/").status_code == 403


@pytest.mark.parametrize("kept", [False, True])
def test_a_changed_password_ends_tokens_and_calendar_links_unless_they_are_kept(
    cast: Cast, client: Client, kept: bool
) -> None:
    ApiToken.objects.create(cast.ines, name="laptop")
    _, link = calendar.make_link(cast.ines, name="phone")
    client.force_login(cast.ines)
    sent = {"old": PASSWORD, "new": NEW, "again": NEW, **({"keep": "on"} if kept else {})}
    assert client.post("/me/password/", sent).status_code == 302
    assert ApiToken.objects.filter(user=cast.ines).exists() is kept
    assert Client().get(f"/calendar/{link}.ics").status_code == (200 if kept else 404)
    assert bool(entries("tokens.ended")) is not kept
    assert bool(entries("calendar_link.revoked")) is not kept


def test_pages_whose_address_is_a_key_tell_no_other_page_of_it(cast: Cast, client: Client) -> None:
    for address in ("/invitation/s3cret/", "/password/1f-s3cret/"):
        assert client.get(address)["Referrer-Policy"] == "strict-origin"
