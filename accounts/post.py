"""Writing a letter (a row) and sending it. Writing the same letter again is quietly nothing."""

from __future__ import annotations

import logging
import re
from datetime import datetime, timedelta
from email.mime.text import MIMEText
from smtplib import SMTPServerDisconnected
from typing import Any
from urllib.parse import urlsplit
from uuid import UUID

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.db import transaction
from django.db.models import F, Q
from django.utils import timezone

from accounts import chain, journal
from accounts.digests import calendars_of, still_theirs
from accounts.installation import COPY, is_the_site
from accounts.models import Letter, Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict
from inspection.foundation.text import line, on_one_line

log = logging.getLogger(__name__)

CLAIM_LASTS = timedelta(minutes=10)
# After the first failure a minute, then twice as long each time: a server away over a long week-end loses nothing.
FIRST_PAUSE, LONGEST_PAUSE = timedelta(minutes=1), timedelta(hours=6)
AT_ONCE = 200
# Letters that carry a link which opens a door; once sent, the link is not kept.
SECRET = frozenset({"invitation", "password_reset"})
# Letters that take the head of the journal out of the house, where nobody alters it; made when the letter is sent, so
# that what the letter is about is in it.
HEADED = frozenset({"decision", "report-issued"})
# What an appointment asks of the calendar that reads it (RFC 5546).
METHOD = re.compile(r"^METHOD:([A-Z]+)\r?$", re.MULTILINE)


def write(
    kind: str, about: str, *, to: Person | str, subject: str, body: str, project: UUID | None = None, calendar: str = ""
) -> bool:
    """Write one letter; False when this letter about this thing has already been written to them.

    `project` is the one it speaks of, where it speaks of one; `calendar` an appointment in iCalendar that goes with it.
    """
    person = to if isinstance(to, Person) else None
    _, new = Letter.objects.get_or_create(
        kind=kind,
        about=about,
        recipient=person.email if person else str(to),
        defaults={
            "person": person,
            "subject": on_one_line(subject)[:200],
            "body": body,
            "calendar": calendar,
            "project_id": project,
        },
    )
    return new


def send_due(at: datetime | None = None) -> int:
    """Send what is due; how many were sent.

    A letter is claimed by a conditional update first, so two senders never both send it. One that its server refuses
    waits alone; a server that does not answer makes all wait, so that each of them is not timed out by itself.
    """
    at = at or timezone.now()
    if not is_the_site():
        log.warning(COPY)
        return 0
    due = list(Letter.objects.waiting().filter(_free(at), next_try_at__lte=at).select_related("person")[:AT_ONCE])
    if not due:
        return 0
    try:
        server = get_connection()
        server.open()
    except Exception as fault:  # whatever the way of sending raises, the letters stay and their rows say why
        _nobody_answers(due[0], fault, at)
        return 0
    sent = 0
    try:
        for letter in due:
            if not _claim(letter, at):
                continue
            if not still_theirs(letter):
                Letter.objects.filter(pk=letter.pk).update(set_aside_at=at)
                continue
            try:
                _add_head(letter)
                _message(letter, server).send()
            except (TimeoutError, ConnectionError, SMTPServerDisconnected) as fault:
                _nobody_answers(letter, fault, at)
                break
            except Exception as fault:  # one letter that cannot be sent must not stop the others
                _failed(letter, fault, at)
            else:
                _sent(letter)
                sent += 1
    finally:
        server.close()
    return sent


def _free(at: datetime) -> Q:
    return Q(claimed_at=None) | Q(claimed_at__lt=at - CLAIM_LASTS)


def _claim(letter: Letter, at: datetime) -> bool:
    return bool(Letter.objects.waiting().filter(_free(at), pk=letter.pk).update(claimed_at=at))


def _add_head(letter: Letter) -> None:
    if letter.kind in HEADED:
        chain.link()
        letter.body += (
            f"\nKeep this letter. It fixes what was recorded up to now; an auditor compares it with the records:\n"
            f"{chain.head()}\n"
        )


def _message(letter: Letter, server: Any) -> EmailMessage:
    # The same id each time, so that a letter sent twice, by a worker killed in between, is shown once.
    name = f"<{letter.pk}@{urlsplit(settings.SITE_URL).hostname}>"
    message = EmailMessage(
        on_one_line(letter.subject), letter.body, settings.DEFAULT_FROM_EMAIL, [letter.recipient], connection=server,
        headers={"Message-ID": name},
    )  # fmt: skip
    for number, calendar in enumerate(calendars_of(letter), start=1):
        message.attach(_appointment(calendar, f"appointment-{number}.ics"))
    return message


def _appointment(calendar: str, name: str) -> MIMEText:
    """The part by which mail programs take up an appointment (RFC 6047): its type names the method as it does."""
    part = MIMEText(calendar, "calendar", "utf-8")
    if method := METHOD.search(calendar):
        part.set_param("method", method[1])
    part.add_header("Content-Disposition", "attachment", filename=name)
    return part


def _sent(letter: Letter) -> None:
    kept = "(The link is not kept.)" if letter.kind in SECRET else letter.body
    Letter.objects.filter(pk=letter.pk).update(
        sent_at=timezone.now(), attempts=F("attempts") + 1, last_error="", subject=letter.subject, body=kept
    )


def _failed(letter: Letter, fault: Exception, at: datetime) -> None:
    log.warning("letter %s was not sent: %s", letter.pk, type(fault).__name__)
    Letter.objects.filter(pk=letter.pk).update(
        claimed_at=None, attempts=F("attempts") + 1, last_error=_words(fault),
        next_try_at=at + _pause(letter.attempts),
    )  # fmt: skip


def _nobody_answers(letter: Letter, fault: Exception, at: datetime) -> None:
    """The letter was tried in vain; all others wait as long, untried."""
    _failed(letter, fault, at)
    again = at + _pause(letter.attempts)
    waiting = Letter.objects.waiting()
    waiting.filter(next_try_at__lt=again).update(next_try_at=again, last_error=_words(fault))
    log.warning("mail cannot be sent; %s letters wait until %s", waiting.count(), again.isoformat(timespec="seconds"))


def _pause(attempts: int) -> timedelta:
    return min(FIRST_PAUSE * (1 << min(attempts, 20)), LONGEST_PAUSE)


def _words(fault: Exception) -> str:
    return f"{type(fault).__name__}: {fault}"[:500]


def hold_back(by: Person, *, person: Person, project: UUID | None = None) -> None:
    """Send nothing more of what still waits for somebody who leaves: of the project, or, without one, of anything."""
    waiting = Letter.objects.waiting().filter(person=person)
    if project:
        waiting = waiting.filter(project_id=project)
    if many := waiting.update(set_aside_at=timezone.now()):
        journal.record("letters.held_back", person, by=by, project_id=project, after={"letters": many})


@transaction.atomic
def try_again(by: Person, *, letter: Letter) -> None:
    """Let a letter that waits be sent at the next sweep."""
    require(by, Role.ADMINISTRATOR, Role.QUALITY_MANAGER, to="send letters again")
    if not Letter.objects.waiting().filter(pk=letter.pk).update(next_try_at=timezone.now()):
        raise Conflict("This letter does not wait any more; it was sent or set aside meanwhile.")
    journal.record("letter.tried_again", letter, by=by, after={"recipient": letter.recipient})


@transaction.atomic
def set_aside(by: Person, *, letter: Letter, reason: str) -> None:
    """Send a letter no more, with the reason: the address is gone, or its reader was told otherwise."""
    require(by, Role.ADMINISTRATOR, Role.QUALITY_MANAGER, to="set letters aside")
    reason = line(reason, field="reason", most=300)
    if not Letter.objects.waiting().filter(pk=letter.pk).update(set_aside_at=timezone.now()):
        raise Conflict("This letter does not wait any more; it was sent or set aside meanwhile.")
    journal.record("letter.set_aside", letter, by=by, before={"recipient": letter.recipient}, reason=reason)
