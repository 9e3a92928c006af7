"""A correction by the form shows what it changes before it is stored, of whatever kind the record is."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from structlog.contextvars import bound_contextvars

from accounts import journal
from accounts.rehearsal import rehearse
from inspection.fieldwork.foreseen import table_changes
from inspection.fieldwork.models import Record
from inspection.fieldwork.pulloff.models import PullOffRecord
from inspection.fieldwork.pulloff.recording import PULL_OFF
from inspection.foundation.ids import new_id
from inspection.nonconformance.models import Nonconformance, ReworkItem
from tests.cast import Cast
from tests.fieldwork.after_paint import stored
from tests.fieldwork.build import kept_fields
from tests.fieldwork.test_pull_off import dolly, form, observed
from tests.fieldwork.test_sheet_pages import words

pytestmark = pytest.mark.django_db


def test_every_row_and_what_follows_is_shown_and_stored_from_there_only(cast: Cast, client: Client) -> None:
    before = stored(cast, PULL_OFF, observed(dolly(8, "web"), dolly(9, "flange"), dolly(10, "stiffener")))
    client.force_login(cast.ines)
    correct = f"{reverse('pulloff_new', args=[cast.site.project.pk])}?replaces={before.pk}"
    as_stored = {field.name: field.value() for field in client.get(correct).context["form"] if field.value()}
    unchanged = client.post(correct, as_stored | {"replacement_reason": "A slip"})
    assert (unchanged.status_code, "Nothing is changed" in words(unchanged)) == (422, True)
    lines = "web: 4; B 100\nrib: 9; B 90, Y 10\nstiffener: 10; B 100"
    typed = as_stored | {"tests": lines, "steel_stiffened": "on", "note": "North end", "replacement_reason": "A slip"}
    items = ReworkItem.objects.count()
    shown = client.post(correct, typed)
    said = words(shown)
    for sentence in (
        "Tests, row 1 web: 8; B 100 web: 4; B 100", "Tests, row 2 flange: 9; B 100 rib: 9; B 90, Y 10",
        "Thin steel was stiffened no yes", "Note nothing North end", "Verdict Pass Fail",
        "lowest 8.0 MPa ISO 16276-1, 3 tests, mean 7.7 MPa, lowest 4.0 MPa", "Why it is corrected A slip",
        "Who relies on the record",
    ):  # fmt: skip
        assert sentence in said, (sentence, said)
    assert "row 3" not in said
    assert (Record.objects.count(), ReworkItem.objects.count(), Nonconformance.objects.count()) == (1, items, 0)
    # Back to what was typed; typed otherwise, it is shown anew.
    kept = kept_fields(shown)
    again = client.post(correct, kept | {"go": "back"})
    assert (again.status_code, again.context["form"]["tests"].value().split()) == (200, lines.split())
    assert "nothing is stored yet" in words(client.post(correct, kept | {"go": "store", "note": "South end"}))
    first, second = (client.post(correct, kept | {"go": "store"}) for _ in range(2))
    new = PullOffRecord.objects.get(replaces=before)
    assert first["Location"] == second["Location"] == reverse("pulloff", args=[new.pk])
    assert (new.verdict, new.observed["tests"][1]["failures_pct"]) == ("fail", {"B": 90, "Y": 10})
    late = client.post(correct, typed | {"id": str(new_id())})
    assert (late.status_code, "corrected this record already" in words(late)) == (422, True)
    client.force_login(cast.igor)
    assert client.post(correct, form(cast)).status_code == 404


@pytest.mark.once
def test_a_row_more_in_between_moves_none_below_it() -> None:
    def told(*of: str) -> list[tuple[str, str, str]]:
        return [(one.what, one.before, one.after) for one in table_changes("Tests", *(each.split() for each in of))]

    assert told("a b c", "a x b c") == [("Tests, row 2", "", "x")]
    assert told("a b c", "b c") == [("Tests, row 1", "a", "")]
    assert told("a b", "c") == [("Tests, row 1", "a", "c"), ("Tests, row 2", "b", "")]
    assert told("a", "b") == [("Tests", "a", "b")]


def test_what_others_do_meanwhile_is_not_told_of_a_rehearsal(cast: Cast) -> None:
    def act() -> Any:
        journal.record("own.deed", cast.site.area, by=cast.ines)
        journal.record("what.follows", cast.site.area, by=None)
        with bound_contextvars(request_id="another"):
            journal.record("of.another", cast.foreign.area, by=cast.igor)

    with transaction.atomic(), bound_contextvars(request_id="this"):
        assert rehearse(act, but="own.deed") == [f"What follows: {cast.site.area}"]
