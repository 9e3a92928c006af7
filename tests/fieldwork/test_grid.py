"""Correcting a thickness record on a grid: cell by cell, in windows, with what changed shown before it is stored."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import JournalEntry
from inspection.fieldwork import actions, queries
from inspection.fieldwork.actions import ReadingSent, record_thickness
from inspection.fieldwork.grid import Cell, as_typed
from inspection.fieldwork.models import ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Asked, Conflict, NotAllowed, Refused
from inspection.foundation.units import Unit
from tests.cast import Cast
from tests.fieldwork.build import GOOD_SPOTS, sent, spots
from tests.fieldwork.test_sheet_pages import words

pytestmark = pytest.mark.django_db


def a_record(cast: Cast, **changes: Any) -> ThicknessRecord:
    return record_thickness(cast.ines, **sent(cast, **changes))[0]


def values(record: ThicknessRecord) -> dict[tuple[int, int], tuple[float, str]]:
    return {(r.spot, r.order): (r.value_nm / 1000, r.void_reason) for r in queries.readings_of(record)}


def correct(cast: Cast, record: ThicknessRecord, changes: dict[tuple[int, int], Cell], **more: Any) -> ThicknessRecord:
    asked: dict[str, Any] = {"id": new_id(), "record": record, "changes": changes, "reason": "typed wrongly"}
    return actions.correct_cells(cast.ines, **asked | more)[0]


def test_a_correction_changes_the_cells_named_and_nothing_else_and_can_be_corrected_back(cast: Cast) -> None:
    record = a_record(cast, note="by the ladder")
    before = values(record)
    id_ = new_id()
    low = dict.fromkeys(((1, 1), (1, 2), (1, 3)), Cell(20_000))
    changes = {**low, (2, 3): Cell(77_000, "on a weld"), (2, 4): Cell(88_000)}
    found = correct(cast, record, changes, id=id_)
    assert (found.replaces_id, found.note, found.verdict) == (record.pk, "by the ladder", "fail")
    assert values(found) == before | dict.fromkeys(low, (20, "")) | {(2, 3): (77, "on a weld"), (2, 4): (88, "")}
    assert values(ThicknessRecord.objects.get(pk=record.pk)) == before
    entry = JournalEntry.objects.filter(verb="thickness.corrected").get()
    assert (entry.reason, entry.before["verdict"]) == ("typed wrongly", "pass")
    # Sent again it is the same; somebody else's correction of the same version is told, and nothing is stored.
    assert correct(cast, record, changes, id=id_) == found
    with pytest.raises(Conflict):
        actions.correct_cells(cast.quinn, id=new_id(), record=record, changes={(1, 1): Cell(1)}, reason="other")
    back = {place: Cell(round(before[place][0] * 1000)) for place in (*low, (2, 3))} | {(2, 4): Cell(None)}
    with pytest.raises(Asked, match="left out"):
        correct(cast, found, back)
    undone = correct(cast, found, back, ask=False)
    assert (values(undone), undone.verdict) == (before, "pass")


def test_what_is_doubtful_is_asked_and_what_is_wrong_names_spot_and_reading(cast: Cast) -> None:
    record = a_record(cast)
    with pytest.raises(Asked, match=r"Spot 1, reading 2: 820.0 µm is far from the middle of all readings, 81.0 µm"):
        correct(cast, record, {(1, 2): Cell(820_000)})
    for changes, sentence in (
        ({}, "Nothing is changed"),
        ({(1, 1): Cell(80_000)}, "Nothing is changed"),
        ({(3, 2): Cell(9_000_000)}, "Spot 3, reading 2: 9000.0 µm lies outside the range of gauge"),
        ({(r.spot, r.order): Cell(None) for r in GOOD_SPOTS}, "There are no readings"),
    ):
        with pytest.raises(Refused, match=sentence):
            correct(cast, record, changes, ask=False)
    with pytest.raises(Refused, match="Say why"):
        correct(cast, record, {(1, 1): Cell(81_000)}, reason=" ")
    with pytest.raises(NotAllowed):
        actions.correct_cells(cast.clara, id=new_id(), record=record, changes={(1, 1): Cell(1)}, reason="x")
    assert ThicknessRecord.objects.count() == 1


def test_the_pages_hold_what_is_typed_show_it_and_store_it_with_a_reason(cast: Cast, client: Client) -> None:
    record = a_record(cast)
    client.force_login(cast.ines)
    grid, review = (reverse(name, args=[record.pk]) for name in ("thickness_grid", "thickness_changes"))
    assert grid in client.get(reverse("thickness", args=[record.pk])).content.decode()
    shown = client.get(grid)
    assert [line.value for line in shown.context["lines"]][:3] == ["80", "82", "81"]
    wrong = client.post(
        grid, {"value-1-1": "8o", "void-1-1": "", "value-1-2": "83", "add_spot": "x", "add_values": "1"}
    )
    assert wrong.status_code == 422
    assert "Spot 1, reading 1: “8o” is not a number" in words(wrong)
    assert "Add readings: give the number of the spot" in words(wrong)
    assert "Nothing is changed" in words(client.get(review))
    typed = {"value-1-1": "62,5", "void-1-1": "", "value-1-2": "82", "void-1-2": "on a run", "add_spot": "1",
             "add_values": "79 80.5"}  # fmt: skip
    assert client.post(grid, typed)["Location"] == review
    # Typed over in a second window; the void is taken back before it was stored.
    client.post(grid, {"value-1-2": "82", "void-1-2": "", "drop_spot": "5"})
    page = client.get(review)
    told = words(page)
    for sentence in ("Spot 1, reading 1 80 62.5", "Spot 1, reading 4 no reading 79", "Spot 5, reading 1 85 left out",
                     "Readings that count 15 14", "Nothing that you see was decided"):  # fmt: skip
        assert sentence in told
    assert "Spot 1, reading 2" not in told
    answer = {name: page.context["form"].initial[name] for name in ("id", "shown")}
    assert "This field is required" in words(client.post(review, answer))
    asked = client.post(review, answer | {"reason": "spot 5 is of A2"})
    assert (asked.status_code, ThicknessRecord.objects.count()) == (422, 1)
    assert "3 readings are left out" in words(asked)
    stored = client.post(review, answer | {"reason": "spot 5 is of A2", "confirmed": answer["shown"]})
    new = ThicknessRecord.objects.get(replaces=record)
    assert stored["Location"] == reverse("thickness", args=[new.pk])
    assert (values(new)[1, 1], values(new)[1, 5], (5, 1) in values(new)) == ((62.5, ""), (80.5, ""), False)
    # Whoever comes later is told, on both pages; a stranger sees none of them.
    assert client.get(grid).status_code == client.post(review, answer | {"reason": "x"}).status_code == 409
    client.force_login(cast.clara)
    assert client.get(reverse("thickness_grid", args=[new.pk])).status_code == 403


def test_changes_shown_before_are_not_stored_when_they_are_others_and_can_be_forgotten(
    cast: Cast, client: Client
) -> None:
    record = a_record(cast, readings=spots([20, 20, 20], *[[80, 80, 80]] * 4))
    client.force_login(cast.ines)
    grid, review = (reverse(name, args=[record.pk]) for name in ("thickness_grid", "thickness_changes"))
    client.post(grid, {"value-1-1": "81", "void-1-1": ""})
    answer = {name: client.get(review).context["form"].initial[name] for name in ("id", "shown")} | {"reason": "x"}
    client.post(grid, {"value-1-1": "83", "void-1-1": ""})
    assert "Nonconformances (1)" in words(client.get(review))
    assert client.post(review, answer).status_code == 409
    assert client.post(review, {"go": "forget"}).status_code == 302
    assert "Nothing is changed" in words(client.get(review))
    assert ThicknessRecord.objects.count() == 1


def test_a_large_record_is_corrected_by_windows_that_do_not_grow(
    cast: Cast, client: Client, django_assert_max_num_queries: Any
) -> None:
    many = [ReadingSent(spot, order, 80_000) for spot in range(1, 101) for order in (1, 2, 3)]
    record = a_record(cast, readings=many)
    client.force_login(cast.ines)
    grid = reverse("thickness_grid", args=[record.pk])
    with django_assert_max_num_queries(20):
        first = client.get(grid)
    assert len(first.context["lines"]) == 60
    there = client.post(grid, {"value-1-1": "79", "void-1-1": "", "go": "spot", "to_spot": "90"})
    last = client.get(there["Location"])
    assert (last.context["window"].number, last.context["changes"]) == (5, 1)
    client.post(grid, {"page": "5", "value-90-2": "78", "void-90-2": "", "go": "previous"})
    assert "Readings that change (2)" in words(client.get(reverse("thickness_changes", args=[record.pk])))


def test_the_api_corrects_by_the_changes_alone(cast: Cast, client: Client) -> None:
    record = a_record(cast)
    client.force_login(cast.ines)
    address = reverse("api_thickness_correct", args=[record.pk])

    def send(*changes: dict[str, Any], **more: Any) -> Any:
        body = {"id": str(id_), "replacement_reason": "typed wrongly", "changes": list(changes)} | more
        return client.post(address, json.dumps(body), content_type="application/json")

    id_ = new_id()
    wrong = send({"spot": 1, "reading": 9}, {"spot": 1, "reading": 1, "value_um": 80, "left_out": True})
    assert wrong.status_code == 422
    assert [error["field"] for error in wrong.json()["errors"]] == ["changes[0].reading", "changes[1].value_um"]
    far = {"spot": 2, "reading": 1, "value_um": 750}
    assert (send(far | {"value_um": 900}).status_code, ThicknessRecord.objects.count()) == (428, 1)
    changes = (far, {"spot": 2, "reading": 2, "void_reason": "on a weld"}, {"spot": 2, "reading": 4, "value_mil": 3})
    first, again = send(*changes), send(*changes)
    assert (first.status_code, again.status_code, first.json()["replaces"]) == (201, 200, str(record.pk))
    # 1 mil = 25.4 µm exactly (NIST SP 811, appendix B).
    changed = {(2, 1): (750, ""), (2, 2): (76, "on a weld"), (2, 4): (76.2, "")}
    assert values(ThicknessRecord.objects.get(pk=id_)) == values(record) | changed
    id_ = new_id()
    assert send(far).status_code == 409
    client.force_login(cast.clara)
    assert send(far).status_code == 403


@pytest.mark.once
def test_a_reading_is_typed_as_exactly_as_its_unit_can_say_it() -> None:
    # 1 mil = 25.4 µm exactly (NIST SP 811, appendix B).
    shown = [
        as_typed(nm, Unit(unit)) for nm, unit in ((81_250, "um"), (100_000, "um"), (81_280, "mil"), (80_000, "mil"))
    ]
    assert shown == ["81.25", "100", "3.2", "3.15"]
