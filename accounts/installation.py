"""Whether this is the site itself or a restored copy of it, which must not write to anybody."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from uuid import uuid4

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from accounts import chain, journal
from accounts.models import Installation, Letter

COPY = (
    "This is a copy: its database was restored beside another installation, so letters are held back. Where it is to "
    "take the place of the site, run manage.py take_over."
)


def is_the_site() -> bool:
    """False in a restored copy. The first to ask in a new installation marks it as the site."""
    row = Installation.objects.first()
    if row is None:
        row, _ = Installation.objects.get_or_create(id=1)
        _mark(row)
        return True
    return _marked() == str(row.name)


@transaction.atomic
def take_over(*, letters_aside: str = "") -> int:
    """Make this copy the site, from now; how many letters wait to be sent.

    `letters_aside`, where given, is the reason why the letters that wait are not sent: the site that was copied may
    have sent them since.
    """
    row, _ = Installation.objects.get_or_create(id=1)
    before = str(row.name)
    row.name, row.since = uuid4(), timezone.now()
    row.save()
    waiting = Letter.objects.waiting()
    aside = waiting.update(set_aside_at=row.since) if letters_aside else 0
    journal.record(
        "installation.taken_over", row, by=None, before={"name": before}, reason=letters_aside,
        after={"name": str(row.name), "letters_set_aside": aside},
    )  # fmt: skip
    _mark(row)
    transaction.on_commit(partial(chain.note_head, anew=True))
    return waiting.count()


def _place() -> Path:
    return Path(settings.VAR_DIR) / "installation"


def _marked() -> str:
    try:
        return _place().read_text().strip()
    except OSError:
        return ""


def _mark(row: Installation) -> None:
    _place().write_text(f"{row.name}\n")
