"""The chain over the journal while people work: complete, without gaps, whoever writes at the same time."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from django.db import connection, transaction

from accounts import chain, journal, keys
from accounts.models import ChainLink, JournalEntry
from tests.cast import Cast


def whole() -> bool:
    """Whether every entry is chained, the numbers run from 1, and each code is that of its entry."""
    before, ring = "", keys.chain_keys()
    for expected, link in enumerate(ChainLink.objects.order_by("number").select_related("entry"), start=1):
        code = chain.code_of(ring[link.key], before, expected, link.entry_id, journal.entry_digest(link.entry))
        if (link.number, link.code) != (expected, code):
            return False
        before = link.code
    return not JournalEntry.objects.filter(link=None).exists()


@pytest.mark.django_db(transaction=True)
def test_what_is_committed_is_chained_at_once_and_what_is_taken_back_is_not(
    cast: Cast, settings: Any, tmp_path: Path
) -> None:
    settings.VAR_DIR = tmp_path
    with transaction.atomic():
        for _ in range(3):
            journal.record("area.measured", cast.site.area, by=cast.ines)
        assert not ChainLink.objects.exists()
    assert (ChainLink.objects.count(), whole()) == (3, True)
    with transaction.atomic():
        journal.record("area.measured", cast.site.area, by=cast.ines)
        transaction.set_rollback(True)
    with transaction.atomic():
        journal.record("area.measured", cast.site.area, by=cast.ines)
    assert (ChainLink.objects.count(), whole()) == (4, True)
    assert chain.noted_head() == chain.head()


@pytest.mark.django_db(transaction=True)
def test_many_who_write_at_once_make_one_chain(cast: Cast, settings: Any, tmp_path: Path) -> None:
    settings.VAR_DIR = tmp_path

    def work(number: int) -> None:
        try:
            for _ in range(5):
                with transaction.atomic():
                    journal.record("area.measured", cast.site.area, by=cast.ines)
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as people:
        list(people.map(work, range(4)))
    chain.link()
    assert (ChainLink.objects.count(), whole()) == (20, True)


@pytest.mark.django_db(transaction=True)
def test_recording_goes_on_without_the_chain(cast: Cast, settings: Any, tmp_path: Path) -> None:
    """What stands in the way of chaining is logged; the entry is stored, and chained with a later one."""
    settings.VAR_DIR = tmp_path
    (tmp_path / "keys").write_text("no folder")
    with transaction.atomic():
        journal.record("area.measured", cast.site.area, by=cast.ines)
    assert (JournalEntry.objects.count(), ChainLink.objects.count()) == (1, 0)
    (tmp_path / "keys").unlink()
    with transaction.atomic():
        journal.record("area.measured", cast.site.area, by=cast.ines)
    assert (ChainLink.objects.count(), whole()) == (2, True)
