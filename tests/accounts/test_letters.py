"""Letters wait for days, say why, and none of them stops the others. The mail server is one behind a real socket."""

from __future__ import annotations

import socket
import socketserver
import threading
import time
from collections.abc import Iterator
from datetime import timedelta
from email import message_from_string
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts import post
from accounts.models import JournalEntry, Letter
from reports.work import jobs
from tests.cast import Cast

pytestmark = pytest.mark.django_db
MINUTE, DAY = timedelta(minutes=1), timedelta(days=1)


class _Talk(socketserver.StreamRequestHandler):
    """As much of RFC 5321 as a sender needs; it refuses whoever is called nobody."""

    def handle(self) -> None:
        self.say("220 ready")
        for raw in self.rfile:
            verb = raw.decode().strip().upper()
            if verb.startswith("RCPT") and "NOBODY@" in verb:
                self.say("550 no such person here")
            elif verb == "DATA":
                self.say("354 go on")
                lines = iter(lambda: self.rfile.readline().decode(), ".\r\n")
                self.server.taken.append("".join(lines))
                self.say("250 taken")
            elif verb == "QUIT":
                self.say("221 bye")
                return
            else:
                self.say("250 well")

    def say(self, words: str) -> None:
        self.wfile.write(f"{words}\r\n".encode())


@pytest.fixture
def mail_server(settings: Any) -> Iterator[list[str]]:
    """A mail server to which letters go; gives those it took."""
    with socketserver.ThreadingTCPServer(("127.0.0.1", 0), _Talk) as server:
        server.taken = []
        threading.Thread(target=server.serve_forever, daemon=True).start()
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = server.server_address
        yield server.taken
        server.shutdown()


@pytest.fixture
def silent_mail_server(settings: Any) -> Iterator[socket.socket]:
    """What takes connections and never says a word."""
    with socket.socket() as server:
        server.bind(("127.0.0.1", 0))
        server.listen(20)
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = server.getsockname()
        settings.EMAIL_TIMEOUT = 0.3
        yield server


def letters(*names: str) -> list[Letter]:
    for name in names:
        post.write("test", name, to=f"{name}@example.com", subject=f"To {name}", body="Words")
    return [Letter.objects.get(about=name) for name in names]


def test_a_refused_recipient_stops_nobody_elses_letter(mail_server: list[str]) -> None:
    letters("ann", "nobody", "zoe")
    assert post.send_due() == 2
    kept = Letter.objects.get(about="nobody")
    assert (kept.sent_at, kept.attempts) == (None, 1)
    assert "no such person here" in kept.last_error
    assert kept.next_try_at > timezone.now() + MINUTE / 2


def test_a_letter_that_cannot_be_put_into_a_message_stops_nobody_elses(mail_server: list[str]) -> None:
    first, _ = letters("ann", "zoe")
    Letter.objects.filter(pk=first.pk).update(recipient="ann\n@example.com")
    assert post.send_due() == 1
    assert [message_from_string(text)["Subject"] for text in mail_server] == ["To zoe"]
    first.refresh_from_db()
    assert "newlines" in first.last_error


def test_a_letter_sent_twice_by_a_worker_killed_in_between_has_one_id(mail_server: list[str]) -> None:
    (letter,) = letters("ann")
    post.send_due()
    # The worker was killed after the server took it and before the row said so.
    Letter.objects.update(sent_at=None, claimed_at=timezone.now() - DAY)
    post.send_due()
    names = {message_from_string(text)["Message-ID"] for text in mail_server}
    assert (len(mail_server), names) == (2, {f"<{letter.pk}@localhost>"})


def test_a_server_that_never_answers_is_waited_for_once_and_not_once_a_letter(silent_mail_server: Any) -> None:
    letters(*(f"p{number}" for number in range(30)))
    began = time.monotonic()
    assert post.send_due() == 0
    assert time.monotonic() - began < 2
    assert set(Letter.objects.values_list("attempts", flat=True)) == {0, 1}
    assert Letter.objects.filter(last_error__contains="timed out").count() == 30
    assert post.send_due() == 0
    assert Letter.objects.filter(attempts__gt=0).count() == 1, "within the pause nothing is tried"


def test_letters_wait_through_five_days_without_mail_and_are_sent_when_it_is_back(
    silent_mail_server: Any, settings: Any, mailoutbox: list[Any]
) -> None:
    settings.EMAIL_PORT = 1  # nobody listens: refused at once
    letters("ann", "zoe")
    now = timezone.now()
    tried, at = 0, now
    while at < now + 5 * DAY:
        before = sum(Letter.objects.values_list("attempts", flat=True))
        post.send_due(at)
        tried += sum(Letter.objects.values_list("attempts", flat=True)) > before
        at += timedelta(minutes=30)
    assert 10 < tried < 60, "pauses grow to six hours"
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    assert post.send_due(at + timedelta(hours=6)) == 2
    assert not Letter.objects.waiting().exists()


def test_an_unwritable_mail_folder_is_told_with_its_reason(settings: Any, tmp_path: Path) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    (tmp_path / "mail").write_text("a file where the folder should be")
    settings.EMAIL_FILE_PATH = tmp_path / "mail"
    (letter,) = letters("ann")
    assert post.send_due() == 0
    letter.refresh_from_db()
    assert str(tmp_path / "mail") in letter.last_error


def test_unsent_letters_are_on_the_page_of_decisions_and_in_readiness(
    cast: Cast, silent_mail_server: Any, client: Client
) -> None:
    jobs.beat()
    letters("ann")
    post.send_due()
    client.force_login(cast.quinn)
    decisions = client.get(reverse("decisions")).content.decode()
    assert "Letters not sent" in decisions
    assert "ann@example.com" in decisions
    ready = client.get("/readyz")
    assert ready.json()["letters"].startswith("1 wait to be sent, the oldest since ")
    assert ready.status_code == 200, "records are kept while mail is away"
    page = client.get(reverse("letters")).content.decode()
    assert "timed out" in page
    assert "(tried 1 time)" in page


def test_a_letter_is_tried_at_once_or_set_aside_with_a_reason_and_both_are_journalled(
    cast: Cast, mail_server: list[str], client: Client
) -> None:
    letters("nobody")
    post.send_due()
    (letter,) = Letter.objects.all()
    client.force_login(cast.admin)
    client.post(reverse("letter_again", args=[letter.pk]))
    post.send_due()
    letter.refresh_from_db()
    assert letter.attempts == 2
    assert client.post(reverse("letter_aside", args=[letter.pk]), {"reason": " "}).status_code == 422
    client.post(reverse("letter_aside", args=[letter.pk]), {"reason": "The address is gone"})
    assert not Letter.objects.waiting().exists()
    verbs = JournalEntry.objects.filter(object_id=str(letter.pk)).order_by("pk").values_list("verb", "reason")
    assert list(verbs) == [("letter.tried_again", ""), ("letter.set_aside", "The address is gone")]
    assert client.post(reverse("letter_again", args=[letter.pk])).status_code == 404


def test_the_subjects_of_letters_are_not_for_inspectors(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)
    assert client.get(reverse("letters")).status_code == 403
