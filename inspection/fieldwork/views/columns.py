"""How a file of readings is read: asked between its sending and its preview, where it cannot be told for certain."""

from __future__ import annotations

from dataclasses import dataclass, replace
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render

from accounts.forms import status_of
from accounts.middleware import SignedIn
from inspection.fieldwork import actions, told_shapes, uploads
from inspection.fieldwork.models import ToldShape
from inspection.fieldwork.reading_shape import MEANINGS, completed, likely_noise, proposed, under_head
from inspection.fieldwork.reading_table import sheets_of
from inspection.fieldwork.shape_forms import HowRead
from inspection.fieldwork.views.common import page, project_or_404, put_into, recorder
from inspection.fieldwork.views.uploads import back_to_form, found_upload, gone, held_upload
from inspection.foundation.cells import Sheet
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.shape_form import LINES_SHOWN
from inspection.foundation.shaping import Shape, told
from inspection.foundation.unpacking import CSV_TYPE

# What the reader calls a thing that is asked, and the field that it is told in.
FIELDS = {"spot": "per_spot"}


@dataclass
class _Proposed:
    """What the form is filled with, whence it comes, and what is asked."""

    sheets: list[Sheet]
    is_text: bool
    shape: Shape
    asked: tuple[Fault, ...] = ()
    kept: ToldShape | None = None


@page
def thickness_columns(request: SignedIn, project: UUID, digest: str) -> HttpResponse:
    """The first rows, and for each column what it is. A POST reads the file so and leads to its preview."""
    recorder(request)
    site = project_or_404(request, project)
    sent = held_upload(request, site, digest)
    if sent is None:
        return gone(request, site)
    upload = found_upload(request, sent, site)
    shown = _proposed(upload)
    data = request.POST if request.method == "POST" else None
    form = _form(shown, upload, data)
    if data is not None:
        try:
            shown = _looked_at(upload, form.chosen)
        except Refused as refusal:
            put_into(form, refusal)
        else:
            form = _form(shown, upload, None if form.looks else data)
    if form.is_bound and form.is_valid():
        shape = form.cleaned_data["shape"]
        told_upload = replace(upload, held=replace(sent, shape=shape.plain, read=None, parts={}), part="")
        try:
            held = told_upload.to_hold()
        except Refused as refusal:
            put_into(form, refusal, FIELDS)
        else:
            remember = form.cleaned_data["remember"]
            actions.tell_shape(
                request.user, gauge=upload.gauge, sheet=shown.sheets[shape.sheet], shape=shape, remember=remember
            )
            return redirect("thickness_preview", project=site.pk, digest=uploads.hold(request.user, held))
    sheet = shown.sheets[shown.shape.sheet]
    # The time of the first reading, given on the form, says the day.
    asked = [fault for fault in shown.asked if fault.field != "day" or sent.first_reading_at is None]
    context = {
        "form": form, "forms": [form], "project": site, "upload": upload, "sent": sent, "asked": asked,
        "kept": shown.kept, "lines": sheet.lines[:LINES_SHOWN], "many": len(sheet.lines), "sheet": sheet,
        "back": back_to_form(site, sent, digest),
    }  # fmt: skip
    return render(request, "fieldwork/thickness_columns.html", context, status=status_of(form))


def _form(shown: _Proposed, upload: uploads.Upload, data: object) -> HowRead:
    return HowRead(data, sheets=shown.sheets, shape=shown.shape, is_text=shown.is_text, gauge=upload.gauge)


def _proposed(upload: uploads.Upload) -> _Proposed:
    """As it was told already, else as a file of the gauge with the same head was, else as its head says."""
    content = upload.held.content
    known = told_shapes.offered(upload.gauge, content) if upload.held.shape is None else None
    if upload.held.shape is not None or known:
        shape = known.shape if known else told(upload.held.shape, MEANINGS)
        sheets, media_type = sheets_of(content, shape.separator)
        asked = completed(sheets[shape.sheet], shape).asked
        return _Proposed(
            sheets, media_type == CSV_TYPE, shape, known.asked if known else asked, known.kept if known else None
        )
    sheets, media_type = sheets_of(content)
    proposal = proposed(sheets)
    shape = _without_noise(sheets, proposal.shape)
    return _Proposed(sheets, media_type == CSV_TYPE, shape, proposal.asked)


def _looked_at(upload: uploads.Upload, chosen: Shape) -> _Proposed:
    """The sheet and head that were asked for. Raises Refused for what is no table so."""
    sheets, media_type = sheets_of(upload.held.content, chosen.separator)
    place = min(chosen.sheet, len(sheets) - 1)
    sheet = sheets[place]
    head = chosen.head if place == chosen.sheet and chosen.head in dict(sheet.lines) else 0
    proposal = completed(sheet, under_head(sheet, replace(chosen, sheet=place), head))
    shape = _without_noise(sheets, proposal.shape)
    return _Proposed(sheets, media_type == CSV_TYPE, shape, proposal.asked)


def _without_noise(sheets: list[Sheet], shape: Shape) -> Shape:
    return replace(shape, skipped=likely_noise(sheets[shape.sheet], shape))
