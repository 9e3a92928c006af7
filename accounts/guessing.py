"""Slowing down who guesses at a secret, without shutting out the person it belongs to.

A try is counted before it is judged, in a transaction of its own: of forty made at once no more than the free ones are
judged, and a decision that is rolled back takes no count with it. After the free tries each further one costs a pause
that doubles, up to the longest; nothing is ever shut for good. The counts lie in the database, which every process
shares and which sign-in needs anyway.

A device on which somebody signed in before is counted by itself (OWASP, "Slow down online guessing attacks with device
cookies"): a stranger who guesses at a person's password slows strangers down, not the person.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil
from uuid import UUID

import structlog
from django.db import transaction
from django.utils import timezone
from django.utils.crypto import salted_hmac

from accounts import journal
from accounts.models import Guesses, Person
from inspection.foundation.refusals import Refused

log = structlog.get_logger(__name__)
FIRST_PAUSE, LONGEST_PAUSE = timedelta(minutes=1), timedelta(minutes=15)
# Without a try for so long, the count begins anew.
FORGOTTEN_AFTER = timedelta(days=1)


@dataclass(frozen=True)
class Door:
    """What is guessed at, by whom: each is counted by itself, with so many tries before pauses begin."""

    name: str
    whose: str
    free: int = 5

    @property
    def key(self) -> str:
        return salted_hmac("accounts.guessing", f"{self.name}\0{self.whose}", algorithm="sha256").hexdigest()


def password_of(person: Person) -> Door:
    """The password typed again by somebody who is signed in: under a decision, or to show that it is still they."""
    return Door("password again", str(person.pk))


def at_sign_in(login: str) -> Door:
    """A person's password, guessed at from devices that nobody has signed in on."""
    return Door("sign-in", login.strip().lower())


def on_device(device: str, login: str) -> Door:
    return Door("sign-in on a known device", f"{device}\0{login.strip().lower()}")


def from_address(ip: str) -> Door:
    """Everybody at one internet address, which may be a whole office."""
    return Door("address", ip, free=30)


def founding_from(ip: str) -> Door:
    """The code that founds the company."""
    return Door("founding", ip, free=10)


def reset_of(login: str) -> Door:
    """Letters with a link, asked for to one address."""
    return Door("reset", login.strip().lower())


def factor_of(person: Person) -> Door:
    return Door("second factor", str(person.pk))


@transaction.atomic
def take(*doors: Door, at: datetime | None = None) -> timedelta | None:
    """Count one try at each of the doors. None when it may be judged; else how long to wait, and nothing is counted."""
    at = at or timezone.now()
    rows = [_row(door, at) for door in sorted(doors, key=lambda door: door.key)]
    # A pause ends after the try that brought it: a door that another opened a moment after `at` is no pause.
    shut = [(row, door) for row, door in rows if row.free_at > max(at, row.last_at)]
    if shut:
        log.warning("refused", why="too many tries", doors=[door.name for _, door in shut])
        return max(row.free_at for row, _ in shut) - at
    for row, door in rows:
        row.tries = 1 if at - row.last_at > FORGOTTEN_AFTER else row.tries + 1
        row.last_at = max(at, row.last_at)
        if row.tries >= door.free:
            row.free_at = at + min(FIRST_PAUSE * 2 ** min(row.tries - door.free, 10), LONGEST_PAUSE)
        row.save(update_fields=["tries", "last_at", "free_at"])
    return None


def _row(door: Door, at: datetime) -> tuple[Guesses, Door]:
    row, _ = Guesses.objects.select_for_update().get_or_create(key=door.key, defaults={"last_at": at, "free_at": at})
    return row, door


def forget(*doors: Door) -> None:
    """The secret was given rightly: the count begins anew."""
    Guesses.objects.filter(key__in=[door.key for door in doors]).delete()


@transaction.atomic
def give_back(door: Door) -> None:
    """The try just taken was a good one, and does not count; those before it do."""
    row = Guesses.objects.select_for_update().filter(key=door.key).first()
    if row is not None:
        row.tries, row.free_at = max(row.tries - 1, 0), row.last_at
        row.save(update_fields=["tries", "free_at"])


def clear_forgotten(at: datetime) -> int:
    """Take away the counts that no longer mean anything; how many there were."""
    return Guesses.objects.filter(last_at__lt=at - FORGOTTEN_AFTER, free_at__lt=at).delete()[0]


def in_words(pause: timedelta) -> str:
    minutes = ceil(pause.total_seconds() / 60)
    return "a minute" if minutes <= 1 else f"{minutes} minutes"


def confirm_password(
    by: Person, password: str, *, to: str, so: str, field: str = "password", project_id: UUID | None = None
) -> None:
    """Raise Refused unless it is the person's password. `to` tells the journal what for, `so` ends the sentences.

    Call it outside the transaction of what is to be done: a wrong one is counted and journalled though nothing else is.
    """
    door = password_of(by)
    pause = take(door)
    if pause is not None:
        raise Refused(f"The password was wrong too often. Wait {in_words(pause)}, then try again; {so}.", field=field)
    if by.check_password(password):
        forget(door)
        return
    log.warning("refused", why="a wrong password again", person=str(by.pk), to=to)
    with transaction.atomic():
        journal.record("password.wrong", by, by=by, project_id=project_id, after={"for": to})
    raise Refused(f"That is not your password; {so}.", field=field)
