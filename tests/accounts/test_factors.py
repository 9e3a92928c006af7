"""Second factors, stepping up, and the ends of sessions."""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import re
import struct
import time
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from allauth.mfa.models import Authenticator
from django.core.management import call_command
from django.test import Client, override_settings
from django.utils import timezone

from accounts import actions, factors, post
from accounts.models import ApiToken, JournalEntry, Person, Role, RoleGrant
from inspection.foundation.refusals import Refused
from tests.cast import PASSWORD, Cast

NEW = "quite another passphrase"
# RFC 6238, appendix B: the secret of its SHA-1 examples, and two of its codes (the last six of eight digits).
RFC_SECRET = base64.b32encode(b"12345678901234567890").decode()
RFC_CODES = {1111111109: "081804", 1234567890: "005924"}


def code_of(secret: str, at: float) -> str:
    """RFC 6238 with RFC 4226, written from the text, so that the site's own code is not asked."""
    digest = hmac.new(base64.b32decode(secret), struct.pack(">Q", int(at) // 30), hashlib.sha1).digest()
    offset = digest[-1] & 15
    return f"{(struct.unpack('>I', digest[offset : offset + 4])[0] & 0x7FFFFFFF) % 10**6:06d}"


def set_up(client: Client) -> str:
    """An authenticator app by the page; its secret."""
    page = client.get("/me/factors/app/").content.decode()
    secret = re.search(r"Key: <code>(\w+)</code>", page)
    assert secret
    done = client.post("/me/factors/app/", {"code": code_of(secret[1], time.time())})
    assert done["Location"] == "/me/factors/codes/"
    return secret[1]


def password_given(person: Person) -> Client:
    client = Client()
    answer = client.post("/sign-in/", {"login": person.email, "password": PASSWORD})
    assert answer["Location"] == "/sign-in/code/"
    return client


def entries(verb: str) -> list[JournalEntry]:
    return list(JournalEntry.objects.filter(verb=verb).order_by("pk"))


@pytest.mark.parametrize(("at", "code"), RFC_CODES.items())
def test_the_codes_of_the_standard_sign_in_once(cast: Cast, at: int, code: str) -> None:
    assert code_of(RFC_SECRET, at) == code
    secret = factors.Factors().encrypt(RFC_SECRET)
    Authenticator.objects.create(user=cast.ines, type=Authenticator.Type.TOTP, data={"secret": secret})
    with time_machine.travel(at, tick=False):
        client = password_given(cast.ines)
        assert client.get("/me/")["Location"].startswith("/sign-in/")
        wrong = client.post("/sign-in/code/", {"code": "000000"})
        assert "not right" in wrong.content.decode()
        assert client.post("/sign-in/code/", {"code": code})["Location"] == "/"
        assert client.get("/me/").status_code == 200
        # Seen over the shoulder, it is worth nothing.
        again = password_given(cast.ines)
        assert "was used before" in again.post("/sign-in/code/", {"code": code}).content.decode()
    assert len(entries("factor.wrong")) == 2


def test_codes_cannot_be_guessed_at_leisure(cast: Cast) -> None:
    secret = factors.Factors().encrypt(RFC_SECRET)
    Authenticator.objects.create(user=cast.ines, type=Authenticator.Type.TOTP, data={"secret": secret})
    with time_machine.travel(1111111109, tick=False):
        client = password_given(cast.ines)
        for _ in range(5):
            client.post("/sign-in/code/", {"code": "000000"})
        answer = client.post("/sign-in/code/", {"code": "081804"})
    assert "Too many wrong codes. Wait a minute" in answer.content.decode()


def test_setting_up_gives_recovery_codes_of_which_each_is_good_once(
    cast: Cast, client: Client, mailoutbox: list, django_capture_on_commit_callbacks: Callable[..., Any]
) -> None:
    client.force_login(cast.ines)
    with django_capture_on_commit_callbacks(execute=True):
        set_up(client)
    page = client.get("/me/factors/codes/").content.decode()
    codes = re.findall(r"<code>(\d{8})</code>", page)
    assert len(codes) == 10
    assert client.get("/me/factors/codes/file/").content.decode().split() == codes
    assert password_given(cast.ines).post("/sign-in/code/", {"code": codes[0]})["Location"] == "/"
    assert password_given(cast.ines).post("/sign-in/code/", {"code": codes[0]}).status_code == 200
    assert "9 are left" in client.get("/me/factors/").content.decode()
    assert entries("factor.added")
    post.send_due()
    assert any("A second factor was added" in letter.subject for letter in mailoutbox)


def test_secrets_lie_encrypted_and_a_new_key_takes_over(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)
    secret = set_up(client)
    assert secret not in json.dumps(list(Authenticator.objects.values("data")))
    row = Authenticator.objects.get(type=Authenticator.Type.TOTP)
    with override_settings(SECRET_KEY="another key", SECRET_KEY_FALLBACKS=["for tests only"]):
        assert factors.Factors().decrypt(row.data["secret"]) == secret
        call_command("second_factors")
        row.refresh_from_db()
    with override_settings(SECRET_KEY="another key"):
        assert factors.Factors().decrypt(row.data["secret"]) == secret


# --- what the company demands -----------------------------------------------------------------------------------------


def test_whoever_holds_a_demanded_role_sets_one_up_before_anything_else(cast: Cast, client: Client) -> None:
    _, token = actions.make_token(cast.ines, name="laptop", days=5)
    client.force_login(cast.admin)
    assert client.post("/people/second-factor/", {"roles": ["inspector"]}).status_code == 302
    inspector, manager = Client(), Client()
    inspector.force_login(cast.ines)
    manager.force_login(cast.quinn)
    for address in ("/", "/me/", "/projects/", "/thickness/"):
        assert inspector.get(address)["Location"] == "/me/factors/"
    assert "asks a second factor of people with your role" in inspector.get("/me/factors/").content.decode()
    assert inspector.get("/api/me/").status_code == 403
    assert Client().get("/api/me/", headers={"Authorization": f"Bearer {token}"}).status_code == 200
    assert manager.get("/me/").status_code == 200
    set_up(inspector)
    assert inspector.get("/me/").status_code == 200
    assert inspector.get("/api/me/").status_code == 200
    # Ended again, it is asked for again; and a role given later counts like one held before.
    inspector.post("/me/factors/app/end/")
    assert inspector.get("/me/")["Location"] == "/me/factors/"
    RoleGrant.objects.create(person=cast.quinn, role=Role.INSPECTOR)
    assert manager.get("/me/")["Location"] == "/me/factors/"
    actions.end_role(cast.admin, person=cast.quinn, role=Role.INSPECTOR)
    assert manager.get("/me/").status_code == 200
    (entry,) = entries("factor.demanded")
    assert entry.after == {"roles": ["inspector"]}


def test_an_administrator_takes_away_a_lost_factor_and_the_person_is_told(
    cast: Cast, client: Client, mailoutbox: list
) -> None:
    person = Client()
    person.force_login(cast.ines)
    set_up(person)
    client.force_login(cast.admin)
    address = f"/people/{cast.ines.pk}/second-factor/reset/"
    assert address in client.get(f"/people/{cast.ines.pk}/").content.decode()
    assert client.post(address).status_code == 302
    assert Client().post("/sign-in/", {"login": cast.ines.email, "password": PASSWORD})["Location"] == "/"
    (entry,) = entries("factor.reset")
    assert (entry.actor, entry.object_id) == (cast.admin, str(cast.ines.pk))
    post.send_due()
    assert any("taken away by Adam Admin" in letter.subject and letter.to == [cast.ines.email] for letter in mailoutbox)
    manager = Client()
    manager.force_login(cast.quinn)
    assert manager.post(address).status_code == 403
    with pytest.raises(Refused, match="own second factor"):
        factors.reset(cast.admin, person=cast.admin)


def test_somebody_whose_access_was_closed_comes_back_without_a_worn_out_factor(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)
    set_up(client)
    actions.deactivate(cast.admin, person=cast.ines)
    assert not Authenticator.objects.filter(user=cast.ines).exists()


# --- stepping up ------------------------------------------------------------------------------------------------------


def test_a_deed_that_reaches_far_asks_again_and_is_carried_out_as_it_was_sent(cast: Cast, client: Client) -> None:
    with time_machine.travel("2026-03-04T07:00:00Z", tick=False) as clock:
        client.force_login(cast.admin)
        clock.shift(16 * 60)
        asked = client.post(f"/people/{cast.ines.pk}/roles/", {"role": "quality_manager"})
        assert asked["Location"].startswith("/me/again/?next=")
        assert "Is it still you?" in client.get(asked["Location"]).content.decode()
        wrong = client.post(asked["Location"], {"password": "a guess"})
        assert "That is not your password" in wrong.content.decode()
        assert not cast.ines.grants.filter(role="quality_manager").exists()
        done = client.post(asked["Location"], {"password": PASSWORD})
        assert done["Location"] == f"/people/{cast.ines.pk}/"
        assert cast.ines.grants.filter(role="quality_manager", ended_at=None).count() == 1
        # For a while it is not asked again.
        assert client.post("/me/tokens/new/", {"name": "laptop", "days": "5"}).status_code == 200
    assert [entry.after for entry in entries("password.wrong")] == [{"for": "show that it is still they"}]


@pytest.mark.parametrize(
    ("who", "method", "address"),
    [
        ("ines", "post", "/me/tokens/new/"),
        ("admin", "post", "/people/invite/"),
        ("admin", "post", "/people/{person}/close/"),
        ("admin", "post", "/people/{person}/roles/inspector/end/"),
        ("admin", "post", "/people/{person}/second-factor/reset/"),
        ("admin", "post", "/people/second-factor/"),
        ("quinn", "post", "/trace/recall/{certificate}/"),
        ("quinn", "post", "/trace/recall/{certificate}/correct/"),
        ("quinn", "post", "/reports/{person}/issue/"),
        ("quinn", "get", "/trace/certificate/{certificate}/bundle.zip"),
    ],
)
def test_each_of_them_asks(cast: Cast, client: Client, who: str, method: str, address: str) -> None:
    with time_machine.travel("2026-03-04T07:00:00Z", tick=False) as clock:
        client.force_login(getattr(cast, who))
        clock.shift(16 * 60)
        address = address.format(person=cast.ines.pk, certificate=cast.gauge_certificate.pk)
        assert getattr(client, method)(address)["Location"].startswith("/me/again/")


def test_an_old_session_makes_no_token_by_the_api_either(cast: Cast, client: Client) -> None:
    with time_machine.travel("2026-03-04T07:00:00Z", tick=False) as clock:
        client.force_login(cast.ines)
        clock.shift(16 * 60)
        answer = client.post("/api/tokens/", {"name": "laptop", "days": 3}, "application/json")
    assert (answer.status_code, "still you" in answer.json()["detail"]) == (403, True)
    assert not ApiToken.objects.exists()


# --- sessions ---------------------------------------------------------------------------------------------------------


def test_a_person_sees_where_they_are_signed_in_and_ends_it_there(cast: Cast) -> None:
    desk, phone, stranger = (Client(headers={"user-agent": name}) for name in ("Desk", "Phone", "Stranger"))
    for client in (desk, phone):
        client.post("/sign-in/", {"login": cast.ines.email, "password": PASSWORD})
    stranger.force_login(cast.igor)
    page = desk.get("/me/sessions/").content.decode()
    assert "Phone" in page
    assert "This device" in page
    (address,) = re.findall(r"/me/sessions/\d+/end/", page)
    assert stranger.post(address).status_code == 409
    assert phone.get("/me/").status_code == 200
    assert desk.post(address).status_code == 302
    assert phone.get("/me/").status_code == 302
    assert desk.get("/me/").status_code == 200
    assert entries("session.ended")


@pytest.mark.parametrize(("stays", "idle"), [({}, timedelta(hours=12)), ({"remember": "on"}, timedelta(days=3))])
def test_a_session_left_alone_ends_and_none_outlasts_fourteen_days(
    cast: Cast, stays: dict[str, str], idle: timedelta
) -> None:
    with time_machine.travel("2026-03-04T07:00:00Z", tick=False) as clock:
        began, alone, used = timezone.now(), Client(), Client()
        for client in (alone, used):
            client.post("/sign-in/", {"login": cast.ines.email, "password": PASSWORD, **stays})
        clock.shift(idle - timedelta(minutes=1))
        assert used.get("/me/").status_code == 200
        clock.shift(timedelta(minutes=2))
        assert (alone.get("/me/").status_code, alone.get("/api/me/").status_code) == (302, 401)
        while timezone.now() < began + timedelta(days=13, hours=12):
            assert used.get("/me/").status_code == 200
            clock.shift(timedelta(hours=11))
        clock.shift(timedelta(days=1))
        assert used.get("/me/").status_code == 302


def test_a_known_device_keeps_its_session_list_after_a_change_of_password(cast: Cast, client: Client) -> None:
    client.post("/sign-in/", {"login": cast.ines.email, "password": PASSWORD})
    client.post("/me/password/", {"old": PASSWORD, "new": NEW, "again": NEW})
    assert "This device" in client.get("/me/sessions/").content.decode()


@pytest.mark.parametrize("answer", ["9" * 5_000, "[" * 70_000, "{"], ids=["many digits", "many lists", "broken"])
def test_what_only_looks_like_a_passkeys_answer_is_a_wrong_answer(cast: Cast, answer: str) -> None:
    client = Client()
    assert client.post("/sign-in/", {"login": cast.ines.email, "password": PASSWORD})["Location"] == "/"
    said = client.post("/me/factors/passkeys/add/", {"credential": answer, "name": "Phone"})
    assert (said.status_code, Authenticator.objects.count()) == (200, 0)
    assert "valid JSON" in said.content.decode()
