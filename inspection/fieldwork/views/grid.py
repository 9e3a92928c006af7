"""Correcting the readings of a thickness record cell by cell, by windows; then what changes, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from accounts import journal
from accounts.forms import status_of
from accounts.middleware import SignedIn
from inspection.fieldwork import actions, queries
from inspection.fieldwork.actions.thickness import MOST_PLACE
from inspection.fieldwork.forms import CorrectCells
from inspection.fieldwork.grid import (
    Cell,
    Changes,
    Difference,
    Place,
    as_typed,
    by_place,
    cell_of,
    changed,
    differences,
)
from inspection.fieldwork.held_changes import held_changes, hold_changes
from inspection.fieldwork.judging import Judgement, ReadingSent, judge
from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.storing import LONGEST_REASON
from inspection.fieldwork.views.common import page, paged, put_into, recorder, tell_stored
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Asked, Conflict, Fault, Refused
from inspection.foundation.text import wrong_on_a_line
from inspection.foundation.units import Unit, to_nm, with_unit
from inspection.projects.steps import film_on

ROWS_A_WINDOW = 60
CHANGES_A_PAGE = 100
MOST_TYPED = 4_000


@dataclass
class Line:
    """One reading in the window: as stored, as its fields stand, and what is wrong with what was typed."""

    spot: int
    order: int
    stored: ReadingSent | None
    value: str
    void_reason: str
    left_out: bool
    value_fault: str = ""
    void_fault: str = ""

    @property
    def key(self) -> str:
        return f"{self.spot}-{self.order}"


def _record_or_404(request: SignedIn, pk: UUID) -> ThicknessRecord:
    """The record to be corrected. Raises Conflict where that was done since."""
    recorder(request, "record thickness")
    rows = queries.thickness_records(request.user).select_related("profile_record")
    record: ThicknessRecord = get_object_or_404(rows, pk=pk)
    if hasattr(record, "replaced_by"):
        by = record.replaced_by.taken_by.name
        raise Conflict(f"This version was corrected by {by}. Open the version that stands, and correct that.")
    return record


@page
def thickness_grid(request: SignedIn, pk: UUID) -> HttpResponse:
    """A window of the readings with their fields; what is typed is held, and stored only from the next page."""
    record = _record_or_404(request, pk)
    readings = queries.readings_of(record)
    held = held_changes(request, record.pk)
    window = _window(readings, held, request.POST.get("page") or request.GET.get("page"))
    stored = by_place(readings)
    lines = [_line(record, stored.get(place), place, held) for place in window]
    faults: list[str] = []
    if request.method == "POST":
        try:
            held = _typed(record, lines, readings, held, request.POST, faults)
            if not faults and not any(line.value_fault or line.void_fault for line in lines):
                hold_changes(request, record.pk, held)
                return _onward(request, record, readings, held, window)
        except Refused as refusal:
            faults += [fault.message for fault in refusal.faults]
    wrong = bool(faults) or any(line.value_fault or line.void_fault for line in lines)
    context = {
        "record": record, "project": record.project, "lines": lines, "window": window, "faults": faults,
        "wrong": wrong, "unit": Unit(record.unit), "longest": LONGEST_REASON, "sent": request.POST,
        "changes": len(differences(readings, held_changes(request, record.pk))), "count": len(readings),
    }  # fmt: skip
    return render(request, "fieldwork/thickness_grid.html", context, status=422 if wrong else 200)


def _window(readings: list[ReadingSent], held: Changes, number: Any) -> Page[Place]:
    """So many places, those that were added among them."""
    places = sorted({(reading.spot, reading.order) for reading in readings} | set(held))
    return Paginator(places, ROWS_A_WINDOW).get_page(number)


def _line(record: ThicknessRecord, stored: ReadingSent | None, place: Place, held: Changes) -> Line:
    cell = held.get(place, cell_of(stored))
    left_out = cell.value_nm is None
    shown = cell if not left_out else cell_of(stored)
    value = "" if shown.value_nm is None else as_typed(shown.value_nm, Unit(record.unit))
    return Line(*place, stored, value, shown.void_reason, left_out)


def _typed(
    record: ThicknessRecord, lines: list[Line], readings: list[ReadingSent], held: Changes, sent: QueryDict,
    faults: list[str],
) -> dict[Place, Cell]:  # fmt: skip
    """What is held with what was typed into the window; what is wrong stands in the lines and in `faults`."""
    found = dict(held)
    stored = by_place(readings)
    for line in lines:
        if f"value-{line.key}" not in sent:
            continue
        place = (line.spot, line.order)
        cell = _cell_typed(record, line, found.get(place, cell_of(line.stored)), sent)
        if cell == cell_of(line.stored):
            found.pop(place, None)
        else:
            found[place] = cell
    _leave_out_spot(sent.get("drop_spot", "").strip(), stored, found, faults)
    _add(record, sent, stored, found, faults)
    return found


def _cell_typed(record: ThicknessRecord, line: Line, now: Cell, sent: QueryDict) -> Cell:
    shown = line.value
    line.value = sent.get(f"value-{line.key}", "").strip()
    line.void_reason = sent.get(f"void-{line.key}", "").strip()
    line.left_out = f"out-{line.key}" in sent
    if line.left_out:
        return Cell(None)
    if wrong := wrong_on_a_line(line.void_reason):
        line.void_fault = wrong
    elif len(line.void_reason) > LONGEST_REASON:
        line.void_fault = f"Give the reason in at most {LONGEST_REASON} characters."
    if line.value == shown and now.value_nm is not None:
        # Untouched: what the field shows may be rounded, what is kept is not.
        return Cell(now.value_nm, line.void_reason)
    if line.value == shown and line.stored:
        return Cell(line.stored.value_nm, line.void_reason)
    try:
        return Cell(to_nm(line.value[:MOST_TYPED], record.unit), line.void_reason)
    except Refused as wrong_value:
        line.value_fault = " ".join(fault.message for fault in wrong_value.faults)
        return now


def _number(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 7 and 0 < int(text) <= MOST_PLACE else None


def _leave_out_spot(text: str, stored: dict[Place, ReadingSent], found: dict[Place, Cell], faults: list[str]) -> None:
    if not text:
        return
    spot = _number(text)
    places = [place for place in {*stored, *found} if place[0] == spot]
    if not places:
        faults.append(f"Leave out a spot: there is no spot {text[:10]} in this record.")
    for place in places:
        found.pop(place, None)
        if place in stored:
            found[place] = Cell(None)


def _add(
    record: ThicknessRecord, sent: QueryDict, stored: dict[Place, ReadingSent], found: dict[Place, Cell],
    faults: list[str],
) -> None:  # fmt: skip
    """Readings that were added to a spot, new or not, after those it has."""
    text, typed = sent.get("add_spot", "").strip(), sent.get("add_values", "").strip()
    if not text and not typed:
        return
    spot = _number(text)
    if spot is None:
        faults.append(f"Add readings: give the number of the spot, from 1 to {MOST_PLACE}.")
        return
    if not typed:
        faults.append("Add readings: give at least one reading, several with a blank between them.")
        return
    order = max((place[1] for place in {*stored, *found} if place[0] == spot), default=0)
    for word in typed[:MOST_TYPED].replace(";", " ").split():
        order += 1
        try:
            found[spot, order] = Cell(to_nm(word, record.unit))
        except Refused as refusal:
            faults += [f"Add readings: {fault.message}" for fault in refusal.faults]


def _onward(
    request: SignedIn, record: ThicknessRecord, readings: list[ReadingSent], held: Changes, window: Page[Place]
) -> HttpResponse:
    """To what was asked with what was typed: the changes, another window, a spot."""
    go, number = request.POST.get("go", "show"), window.number
    if go == "show":
        return redirect("thickness_changes", pk=record.pk)
    if go == "spot" and (spot := _number(request.POST.get("to_spot", "").strip())):
        places = sorted({(reading.spot, reading.order) for reading in readings} | set(held))
        before = sum(place[0] < spot for place in places)
        number = min(before, len(places) - 1) // ROWS_A_WINDOW + 1
    number += {"next": 1, "previous": -1}.get(go, 0)
    return redirect(f"{reverse('thickness_grid', args=[record.pk])}?{urlencode({'page': max(number, 1)})}")


@page
def thickness_changes(request: SignedIn, pk: UUID) -> HttpResponse:
    """What is changed, what follows of it and who relies on the record; with the reason, it is stored."""
    record = _record_or_404(request, pk)
    if request.POST.get("go") == "forget":
        hold_changes(request, record.pk, {})
        messages.success(request, "The changes are forgotten; the record is as it was.")
        return redirect("thickness", pk=record.pk)
    held = held_changes(request, record.pk)
    readings = queries.readings_of(record)
    found = differences(readings, held)
    shown = journal.digest_of({"changes": [[*place, *cell] for place, cell in sorted(held.items())]})
    form = CorrectCells(request.POST or None, initial={"id": new_id(), "shown": shown})
    asking: list[Fault] = []
    if form.is_bound and form.is_valid():
        asked = form.cleaned_data
        if asked["shown"] != shown:
            raise Conflict("The changes are others than those that were shown. Go back and look at them again.")
        try:
            stored, _ = actions.correct_cells(
                request.user, id=asked["id"], record=record, changes=held, reason=asked["reason"],
                ask=not form.is_confirmed,
            )  # fmt: skip
        except Asked as question:
            asking = [Fault(fault.message) for fault in question.faults]
        except Conflict:
            raise
        except Refused as refusal:
            put_into(form, refusal, {"replacement_reason": "reason"})
        else:
            hold_changes(request, record.pk, {})
            tell_stored(request, "The correction is stored; the record before it stays readable.", stored)
            return redirect("thickness", pk=stored.pk)
    judged, trouble = _judged(record, changed(readings, held))
    unit = Unit(record.unit)
    context = {
        "record": record, "project": record.project, "found": changes_shown(request, found, unit), "form": form,
        "asking": asking, "unit": unit, "trouble": trouble, "verdict": judged.verdict if judged else "",
        "verdict_words": _words(judged), "figures": _figures(record, readings, judged, changed(readings, held)),
        "shown": shown,
    }  # fmt: skip
    return render(request, "fieldwork/thickness_changes.html", context, status=422 if asking else status_of(form))


def changes_shown(request: SignedIn, found: list[Difference], unit: Unit, name: str = "page") -> Page[Any]:
    """A page of what differs: the place, and each of stored and corrected as figure and why it does not count."""
    told = paged(request, found, CHANGES_A_PAGE, name=name)

    def side(reading: ReadingSent | None) -> tuple[str, str] | None:
        return (as_typed(reading.value_nm, unit), reading.void_reason) if reading else None

    told.object_list = [(one, side(one.before), side(one.after)) for one in told.object_list]
    return told


def _judged(record: ThicknessRecord, readings: list[ReadingSent]) -> tuple[Judgement | None, str]:
    """As the correction will be judged, and what keeps it from that."""
    try:
        return judge(film_on(record.area, record.coat), record.area, readings, record.correction_nm), ""
    except Refused as refusal:
        return None, " ".join(fault.message for fault in refusal.faults[:5])


def _words(judged: Judgement | None) -> str:
    return str(ThicknessRecord.Verdict(judged.verdict).label) if judged else "Cannot be judged"


def _figures(
    record: ThicknessRecord, readings: list[ReadingSent], judged: Judgement | None, then: list[ReadingSent]
) -> list[tuple[str, str, str]]:
    """Name, before and after, corrected for the profile as the page of a record tells them."""
    unit = record.project.unit
    values = judged.values_nm if judged else []
    voided = [sum(bool(reading.void_reason) for reading in rows) for rows in (readings, then)]
    return [
        ("Readings that count", str(record.reading_count), str(len(values)) if judged else "–"),
        ("Voided", str(voided[0]), str(voided[1])),
        ("Mean", with_unit(record.mean_nm, unit), with_unit(round(judged.mean_nm) if judged else None, unit)),
        ("Lowest", with_unit(record.lowest_nm, unit), with_unit(min(values, default=None), unit)),
        ("Highest", with_unit(record.highest_nm, unit), with_unit(max(values, default=None), unit)),
    ]
