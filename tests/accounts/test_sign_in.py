"""Signing in and out, rate limits, forgotten and changed passwords."""

from __future__ import annotations

import re

import pytest
import time_machine
from django.conf import settings
from django.test import Client

from accounts import actions, post
from accounts.models import ApiToken, JournalEntry
from tests.cast import PASSWORD, Cast

NEW = "quite another passphrase"


def sign_in(client: Client, email: str, password: str, **more: str) -> object:
    return client.post("/sign-in/", {"login": email, "password": password, **more})


def test_a_person_signs_in_by_address_in_any_case_and_lands_at_home(cast: Cast, client: Client) -> None:
    answer = sign_in(client, "INES@example.com", PASSWORD)
    assert (answer.status_code, answer["Location"]) == (302, "/")
    assert cast.ines.name in client.get("/me/").content.decode()
    client.post("/sign-out/")
    assert client.get("/me/")["Location"] == "/sign-in/?next=/me/"


def test_after_signing_in_one_lands_on_the_page_asked_for_but_never_on_another_site(cast: Cast, client: Client) -> None:
    assert sign_in(client, cast.ines.email, PASSWORD, next="/me/")["Location"] == "/me/"
    client.logout()
    assert sign_in(client, cast.ines.email, PASSWORD, next="https://elsewhere.example/")["Location"] == "/"


def test_a_wrong_password_and_an_unknown_address_are_told_apart_by_nothing(cast: Cast, client: Client) -> None:
    known = sign_in(client, cast.ines.email, "wrong password")
    unknown = sign_in(client, "nobody@example.com", "wrong password")
    sentence = "The e-mail address or the password is not right."
    assert sentence in known.content.decode()
    assert sentence in unknown.content.decode()


def test_after_five_wrong_passwords_even_the_right_one_waits(cast: Cast, client: Client) -> None:
    with time_machine.travel("2026-03-04T07:00:00Z", tick=False) as clock:
        for _ in range(5):
            assert "is not right" in sign_in(client, cast.ines.email, "wrong password").content.decode()
        page = sign_in(client, cast.ines.email, PASSWORD).content.decode()
        assert "Too many wrong passwords. Wait a minute and sign in again, or set a new password." in page
        # Somebody else on the same line is not locked out with them.
        assert sign_in(Client(), cast.igor.email, PASSWORD).status_code == 302
        clock.shift(61)
        assert sign_in(client, cast.ines.email, PASSWORD).status_code == 302


def test_signing_in_lasts_for_the_browser_session_unless_asked_to_stay(cast: Cast) -> None:
    short, long = Client(), Client()
    sign_in(short, cast.ines.email, PASSWORD)
    sign_in(long, cast.ines.email, PASSWORD, remember="on")
    assert short.session.get_expire_at_browser_close()
    assert not long.session.get_expire_at_browser_close()
    assert long.session.get_expiry_age() == 14 * 24 * 3600


def test_the_sign_in_page_names_the_company_as_it_was_founded(cast: Cast, client: Client) -> None:
    assert "Coating inspection records of The Company." in client.get("/sign-in/").content.decode()


def test_nobody_signs_themselves_up(client: Client, db: None) -> None:
    for answer in (client.get("/sign-up/"), client.post("/sign-up/", {"email": "a@b.example"})):
        assert "People come in by invitation" in answer.content.decode()


def test_a_forgotten_password_is_set_anew_by_a_mailed_link(cast: Cast, client: Client, mailoutbox: list) -> None:
    actions.make_token(cast.ines, name="laptop", days=5)
    client.post("/password/", {"email": cast.ines.email.upper()})
    post.send_due()
    (letter,) = mailoutbox
    assert letter.to[0].lower() == cast.ines.email
    link = re.search(r"http://localhost:8000(/password/\S+)", letter.body)
    assert link
    page = client.get(link[1], follow=True)
    assert "Choose a new password" in page.content.decode()
    done = client.post(page.redirect_chain[-1][0], {"password1": NEW, "password2": NEW}, follow=True)
    assert "Your password is set" in done.content.decode()
    assert sign_in(Client(), cast.ines.email, PASSWORD).status_code == 200
    assert sign_in(Client(), cast.ines.email, NEW).status_code == 302
    assert not ApiToken.objects.filter(user=cast.ines).exists()
    assert JournalEntry.objects.filter(verb="person.password_reset", actor=cast.ines).exists()
    assert "no longer good" in Client().get(link[1], follow=True).content.decode()


def test_asking_for_a_strangers_password_says_the_same_and_mails_nobody(
    cast: Cast, client: Client, mailoutbox: list
) -> None:
    known = client.post("/password/", {"email": cast.ines.email}, follow=True)
    unknown = Client().post("/password/", {"email": "nobody@example.com"}, follow=True)
    assert known.content == unknown.content
    post.send_due()
    assert len(mailoutbox) == 1


def test_the_link_in_the_mail_does_not_follow_the_senders_host_header(
    cast: Cast, client: Client, mailoutbox: list
) -> None:
    client.post("/password/", {"email": cast.ines.email}, headers={"Host": "127.0.0.1"})
    post.send_due()
    assert f"{settings.SITE_URL}/password/" in mailoutbox[0].body


def test_a_person_changes_their_password_and_stays_signed_in(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)
    wrong = client.post("/me/password/", {"old": "not it", "new": NEW, "again": NEW})
    assert (wrong.status_code, "That is not your password; it is not changed." in wrong.content.decode()) == (422, True)
    weak = client.post("/me/password/", {"old": PASSWORD, "new": "short", "again": "short"})
    assert (weak.status_code, "at least 12 characters" in weak.content.decode()) == (422, True)
    answer = client.post("/me/password/", {"old": PASSWORD, "new": NEW, "again": NEW}, follow=True)
    assert "Your password is changed." in answer.content.decode()
    other = Client()
    assert sign_in(other, cast.ines.email, NEW).status_code == 302


def test_a_changed_password_ends_the_sessions_on_other_devices(cast: Cast, client: Client) -> None:
    other = Client()
    other.force_login(cast.ines)
    client.force_login(cast.ines)
    client.post("/me/password/", {"old": PASSWORD, "new": NEW, "again": NEW})
    assert client.get("/me/").status_code == 200
    assert other.get("/me/").status_code == 302


def test_guessing_the_old_password_is_limited(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)
    for _ in range(5):
        client.post("/me/password/", {"old": "x", "new": NEW, "again": NEW})
    page = client.post("/me/password/", {"old": PASSWORD, "new": NEW, "again": NEW})
    assert (page.status_code, "Wait a minute" in page.content.decode()) == (422, True)


@pytest.mark.parametrize("path", ["/", "/me/", "/people/", "/nowhere/"])
def test_a_stranger_is_led_to_the_sign_in_or_told_nothing_is_there(path: str, client: Client, db: None) -> None:
    answer = client.get(path)
    assert answer.status_code in {302, 404}
    assert answer.status_code == 404 or answer["Location"].startswith("/sign-in/")
