"""How a table that was sent is read: asked where its heads do not say, and then read as any other.

The page takes the place of the upload's own at the same address. The file is carried by the form itself, so that
nothing is stored before its rows were shown.
"""

from __future__ import annotations

import base64
import binascii
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import render

from accounts.middleware import SignedIn
from accounts.models import Person
from inspection.foundation import asked_tables
from inspection.foundation.asked_tables import Columns
from inspection.foundation.cells import Sheet
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.shape_form import LINES_SHOWN, ColumnsForm, chosen_in
from inspection.foundation.shaping import Shape
from inspection.foundation.unpacking import CSV_TYPE
from inspection.projects import stored_tables, told_tables
from inspection.projects.forms import show_refusal
from inspection.projects.models import ToldTable
from inspection.projects.stored_tables import CAME, Sent

CARRIED, ASK = "carried", "ask"
# In a form a file grows by a third, and a request has its own limit.
MOST_CARRIED = 6 * 1024 * 1024
# Of the question page; all else goes on to the upload.
OWN = {"csrfmiddlewaretoken", CARRIED, ASK, "seen", "day_order", "skipped", "remember", "sheet", "separator", "head",
       "look", "store", "day", "blanks"}  # fmt: skip


@dataclass
class _Looked:
    sheets: list[Sheet]
    is_text: bool
    shape: Shape
    asked: tuple[Fault, ...]

    @property
    def sheet(self) -> Sheet:
        return self.sheets[self.shape.sheet]


def sent_or_asked(request: SignedIn, columns: Columns, shown: Mapping[str, Any]) -> HttpResponse | tuple[Any, Any]:
    """What was sent, for the upload's form: as it came where it is certain, or as it was told; else the page that asks.

    `shown` is what that page says: `of`, what the table holds, and `project` where it has one.
    """
    if request.method != "POST":
        return None, None
    carried = request.POST.get(CARRIED)
    content = _carried(carried) if carried else _to_ask(request, columns)
    if content is None:
        return request.POST or None, request.FILES or None
    try:
        return _answered(request, columns, content, shown)
    except Refused:
        # No table at all, which the upload says.
        return request.POST, request.FILES


def came_as(request: SignedIn, content: bytes | None = None) -> str:
    """What goes with the form of a file that was sent now or before; empty for pasted rows."""
    file = request.FILES.get("file")
    if file is None:
        return request.POST.get(CAME, "")
    if content is None:
        # The form has read it already.
        file.seek(0)
        content = file.read(settings.UPLOAD_MAX_BYTES + 1)
        file.seek(0)
    return stored_tables.signed(content)


def tell_before(request: SignedIn, sent: Sent) -> None:
    """Once it is stored: that the same had been stored before."""
    for told in sent.before:
        messages.warning(request, told)


def _to_ask(request: SignedIn, columns: Columns) -> bytes | None:
    """The content of which it must be asked, or was wished that it is asked; None where there is nothing to ask."""
    file = request.FILES.get("file")
    if file is None:
        return request.POST.get("rows", "").encode() or None if ASK in request.POST else None
    content: bytes = file.read(min(MOST_CARRIED, settings.UPLOAD_MAX_BYTES) + 1)
    file.seek(0)
    if len(content) > MOST_CARRIED:
        return None
    try:
        return None if ASK not in request.POST and asked_tables.is_certain(content, columns) else content
    except Refused:
        return None


def _carried(text: str) -> bytes | None:
    try:
        return base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        return None


@dataclass
class Question:
    """What is asked of a file: how it is proposed to be read, the form, and who told it before where somebody did."""

    columns: Columns
    looked: _Looked
    form: ColumnsForm
    known: told_tables.Offered | None = None

    @property
    def is_known(self) -> bool:
        """Whether it is read as somebody told it. Without a head only the number of columns speaks for it."""
        return bool(self.known and self.known.shape.head and not self.looked.asked)

    @property
    def is_plain(self) -> bool:
        """Whether nothing is to be asked, also not of a line that is likely no row."""
        return self.is_known or not (self.known or self.looked.asked or self.looked.shape.skipped)

    @property
    def told(self) -> Shape | None:
        """What was answered, where it is whole."""
        if not (self.form.is_bound and self.form.is_valid()):
            return None
        shape: Shape = self.form.cleaned_data["shape"]
        found = asked_tables.completed(self.looked.sheet, shape, self.columns)
        if found.asked:
            show_refusal(Refused(found.asked), self.form)
            return None
        return found.shape

    def keep(self, by: Person, shape: Shape) -> None:
        """Remember the answer for the next such file, or forget it, as was wished."""
        remember = self.form.cleaned_data["remember"]
        told_tables.tell_table(by, columns=self.columns, sheet=self.looked.sheet, shape=shape, remember=remember)

    @property
    def shown(self) -> dict[str, Any]:
        sheet = self.looked.sheet
        return {
            "form": self.form, "forms": [self.form], "asked": self.looked.asked, "lines": sheet.lines[:LINES_SHOWN],
            "many": len(sheet.lines), "sheet": sheet,
        }  # fmt: skip


def question(
    by: Person, columns: Columns, content: bytes, answers: QueryDict | None, told: Shape | None = None
) -> Question:
    """The question of a file, filled in as it was told, as it was before, or as its heads say; or as it was answered.

    Raises Refused for what is no table.
    """
    known = None if answers or told else told_tables.offered(by, columns, content)
    whole = told or (known.shape if known else None)
    looked = _looked(content, columns, chosen_in(answers) if answers else whole, bool(whole))
    form = _form(looked, columns, answers)
    if answers and form.looks:
        form = _form(looked, columns, None)
    return Question(columns, looked, form, known)


def read_as_told(kept: ToldTable) -> str:
    return f"Read as {kept.told_by.name} told it; to tell it anew, send it by “Say what each column is”."


def _answered(
    request: SignedIn, columns: Columns, content: bytes, shown: Mapping[str, Any]
) -> HttpResponse | tuple[QueryDict, None]:
    answers = request.POST if CARRIED in request.POST else None
    asked = question(request.user, columns, content, answers)
    if asked.known and asked.is_known and ASK not in request.POST:
        messages.info(request, read_as_told(asked.known.kept))
        return _read(request, columns, asked.looked.sheet, asked.looked.shape), None
    if shape := asked.told:
        try:
            passed = _read(request, columns, asked.looked.sheet, shape)
        except Refused as refusal:
            show_refusal(refusal, asked.form)
        else:
            asked.keep(request.user, shape)
            return passed, None
    context = {
        **shown, **asked.shown, "back": request.path, "carried": base64.b64encode(content).decode(),
        "kept": [(name, value) for name in request.POST if name not in {*OWN, "rows", CAME}
                 and not name.startswith("column_") for value in request.POST.getlist(name)],
    }  # fmt: skip
    if came := came_as(request, content):
        context["kept"].append((CAME, came))
    return render(request, "projects/how_read.html", context, status=422 if asked.form.errors else 200)


def _form(looked: _Looked, columns: Columns, data: Any) -> ColumnsForm:
    noise = asked_tables.likely_noise(looked.sheet, looked.shape, columns)
    form = ColumnsForm(
        data, sheets=looked.sheets, shape=looked.shape, is_text=looked.is_text, meanings=columns.meanings, noise=noise
    )
    form.fields["remember"].label = "Read the next table with the same head so"
    for name, wanted in (("day_order", columns.days), ("day", columns.clock), ("blanks", columns.repeated)):
        if not wanted:
            form.fields[name].widget = form.fields[name].hidden_widget()
    return form


def _looked(content: bytes, columns: Columns, chosen: Shape | None, whole: bool) -> _Looked:
    """The file as it is proposed to be read, of the sheet and head that were chosen, or wholly as chosen.

    Raises Refused for what is no table.
    """
    sheets, media_type = columns.sheets(content, chosen.separator if chosen else "")
    if chosen is None:
        proposal = asked_tables.proposed(sheets, columns)
    elif whole:
        proposal = asked_tables.completed(sheets[chosen.sheet], chosen, columns)
        return _Looked(sheets, media_type == CSV_TYPE, proposal.shape, proposal.asked)
    else:
        place = min(chosen.sheet, len(sheets) - 1)
        head = chosen.head if chosen.head in dict(sheets[place].lines) else 0
        shape = asked_tables.under_head(sheets[place], replace(chosen, sheet=place), columns, head)
        proposal = asked_tables.completed(sheets[place], shape, columns)
    shape = proposal.shape
    noise = asked_tables.likely_noise(sheets[shape.sheet], shape, columns)
    return _Looked(sheets, media_type == CSV_TYPE, replace(shape, skipped=noise), proposal.asked)


def _read(request: SignedIn, columns: Columns, sheet: Sheet, shape: Shape) -> QueryDict:
    """What the upload's own form gets: the rows as text, and what else was typed before."""
    rows = asked_tables.retold(sheet, shape, columns)
    for sentence in asked_tables.told_of(sheet, shape, columns):
        messages.info(request, sentence)
    data = request.POST.copy()
    for name in [*data]:
        if name in OWN or name.startswith("column_"):
            del data[name]
    data["rows"] = rows
    return data
