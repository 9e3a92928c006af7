"""The keyed chain over the journal: each entry's code rests on the one before it, under a key outside the database.

Entries are chained right after the transaction that wrote them, in a short one of its own: recording waits for nobody,
and the numbers of the chain have no gap. Why so: docs/decisions/keyed-chain.md.
"""

from __future__ import annotations

import hashlib
import hmac
import logging
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.db import IntegrityError, transaction

from accounts import keys
from accounts.models import ChainLink, JournalEntry

AT_ONCE = 1_000
# An entry waits for its transaction to end; while it does, far fewer than so many others are chained.
LOOKED_BACK = 2_000
TRIES = 5
IN_TEXT = re.compile(r"journal head (\d+):([0-9a-f]{64})")
log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Head:
    """How far the chain had come, and the code of its last link; empty where nothing is chained yet."""

    number: int
    code: str

    def __str__(self) -> str:
        return f"journal head {self.number}:{self.code}"


def code_of(key: bytes, before: str, number: int, entry: int, digest: str) -> str:
    """HMAC-SHA-256 (RFC 2104) of a link: the code before it, its number, and the entry's id and digest."""
    return hmac.new(key, f"{before}\n{number}\n{entry}\n{digest}".encode(), hashlib.sha256).hexdigest()


def head() -> Head | None:
    last = ChainLink.objects.order_by("-number").values_list("number", "code").first()
    return Head(*last) if last else None


def heads_in(text: str) -> Iterator[Head]:
    for number, code in IN_TEXT.findall(text):
        yield Head(int(number), code)


def soon() -> None:
    """Chain what the transaction under way writes, as soon as it is committed; asked for once in each."""
    waiting = transaction.get_connection().run_on_commit
    if not any(call is _quietly for _, call, _ in waiting):
        transaction.on_commit(_quietly, robust=True)


def _quietly() -> None:
    link()


def link(*, everything: bool = False) -> int:
    """Chain the entries that are committed and not chained yet, in the order of their ids; how many there were.

    Of two who chain at once the second finds the number taken and begins again. What neither manages is chained with
    the next entry. `everything` looks for leftovers among all entries and not only the latest.
    """
    done = tries = 0
    while tries < TRIES:
        try:
            with transaction.atomic():
                many = _link_some(everything=everything)
        except IntegrityError:
            tries += 1
            continue
        done += many
        if many < AT_ONCE:
            break
    else:
        log.warning("entries of the journal wait to be chained: others chained at the same time")
    if done:
        note_head()
    return done


def _link_some(*, everything: bool) -> int:
    last = head()
    number, code = (last.number, last.code) if last else (0, "")
    entries = JournalEntry.objects.filter(link=None)
    if not everything:
        back = ChainLink.objects.filter(number=number - LOOKED_BACK).values_list("entry", flat=True).first()
        entries = entries.filter(pk__gt=back or 0)
    waiting = list(entries.order_by("pk").values_list("pk", "digest")[:AT_ONCE])
    if not waiting:
        return 0
    name, key = keys.chain_key()
    links = []
    for entry, digest in waiting:
        number += 1
        code = code_of(key, code, number, entry, digest)
        links.append(ChainLink(number=number, entry_id=entry, key=name, code=code))
    ChainLink.objects.bulk_create(links)
    return len(links)


def note_head(*, anew: bool = False) -> None:
    """Note beside the database how far the chain has come, so that its end cannot be cut off unseen.

    A head that lies behind the one noted is not noted, unless this is to begin `anew`, as with a restored copy.
    """
    now, before = head(), noted_head()
    if now is None or (before and before.number >= now.number and not anew):
        return
    path = _place()
    aside = path.with_suffix(f".{os.getpid()}")
    try:
        aside.write_text(f"{now}\n")
        aside.replace(path)
    except OSError:
        log.exception("the head of the journal was not noted")


def noted_head() -> Head | None:
    try:
        return next(heads_in(_place().read_text()), None)
    except OSError:
        return None


def _place() -> Path:
    return Path(settings.VAR_DIR) / "journal-head"
