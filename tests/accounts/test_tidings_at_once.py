"""Several workers gather the letters of one hour at once: one letter, each thing in it once."""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine

from accounts import tidings
from accounts.models import Letter, Tiding
from tests.accounts.test_tidings import TEN, tell
from tests.cast import Cast
from tests.holdpoints.test_at_once import at_once, cast

__all__ = ["cast"]
pytestmark = [pytest.mark.postgresql, pytest.mark.django_db(transaction=True)]


def test_one_letter_is_written_however_many_workers_gather_it(cast: Cast) -> None:
    with time_machine.travel(TEN, tick=False):
        assert sorted(at_once(*(lambda: tell(cast, "A") for _ in range(3))))
        tell(cast, "B")
    written = at_once(*(lambda: tidings.write_digests(TEN + timedelta(hours=1)) for _ in range(4)))
    assert sorted(written) == [0, 0, 0, 1]
    letter = Letter.objects.get(kind="digest")
    assert sorted(Tiding.objects.values_list("about", "letter")) == [("A", letter.pk), ("B", letter.pk)]
