"""Pages of printed sheets: choose and print, the sheet with what was entered, and its quick entry."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from accounts.queries import company_name
from inspection.fieldwork.areas_next import areas_next
from inspection.fieldwork.printed import actions, forms, queries
from inspection.fieldwork.printed.drawing import sheet_pdf
from inspection.fieldwork.printed.models import PrintedArea, PrintedSheet
from inspection.fieldwork.printed.plans import changes_since
from inspection.fieldwork.views.common import page, paged, project_or_404, put_into, recorder, tell_stored
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Asked, Fault, Refused
from inspection.foundation.units import Unit

PRINT, ENTER = "print sheets", "enter printed sheets"
SHEETS_A_PAGE = 20
LONGEST_WORDS = 100


@page
def printed_list(request: SignedIn) -> HttpResponse:
    """Type the code of a sheet; below, the sheets of the person's projects."""
    recorder(request, ENTER)
    form = forms.Typed(request.POST or None)
    if form.is_bound and form.is_valid():
        sheet, number = queries.by_code(request.user, form.cleaned_data["code"])
        if sheet is None:
            form.add_error("code", "No sheet of your projects bears this code; look at it again.")
        elif number is None:
            return redirect("printed_sheet", sheet.code)
        else:
            return redirect("printed_enter", sheet.code, number)
    context = {"form": form, "page": paged(request, queries.sheets_seen(request.user), SHEETS_A_PAGE)}
    return render(request, "fieldwork/printed_list.html", context, status=status_of(form))


@page
def printed_new(request: SignedIn, project: UUID) -> HttpResponse:
    """Choose among the areas that come next, of all or of those that `?words=` names, and print."""
    recorder(request, PRINT)
    site = project_or_404(request, project)
    words = request.GET.get("words", "").strip()[:LONGEST_WORDS]
    areas = areas_next([site.pk], most=actions.MOST_AREAS, words=words)
    form = forms.Choose(request.POST or None, areas=areas, initial={"id": new_id()})
    if form.is_bound and form.is_valid():
        try:
            sheet, _ = actions.print_sheet(
                request.user, id=form.cleaned_data["id"] or new_id(), project=site, places=form.chosen
            )
        except Refused as refusal:
            put_into(form, refusal)
        else:
            messages.success(request, f"Sheet {sheet.code} is ready to print.")
            return redirect("printed_sheet", sheet.code)
    context = {
        "form": form, "project": site, "most": actions.MOST_AREAS,
        "wanting": sum(of for of in {each.held_at is None: each.of for each in areas}.values()),
        "listed": len(areas), "words": words,
    }  # fmt: skip
    return render(request, "fieldwork/printed_new.html", context, status=status_of(form))


def _sheet_or_404(request: SignedIn, code: str) -> PrintedSheet:
    return get_object_or_404(queries.sheets_seen(request.user), code=code.upper())


@require_safe
def printed_sheet(request: SignedIn, code: str) -> HttpResponse:
    """Who printed it and when, its areas, and the record that was entered from each."""
    recorder(request, ENTER)
    return _sheet_page(request, _sheet_or_404(request, code))


def _sheet_page(request: SignedIn, sheet: PrintedSheet, form: forms.Because | None = None) -> HttpResponse:
    context = {
        "sheet": sheet, "project": sheet.project, "areas": queries.areas_of(sheet), "form": form or forms.Because(),
    }  # fmt: skip
    return render(request, "fieldwork/printed_sheet.html", context, status=status_of(form) if form else 200)


@require_safe
def printed_pdf(request: SignedIn, code: str) -> HttpResponse:
    """The paper itself, as it was printed first."""
    recorder(request, PRINT)
    sheet = _sheet_or_404(request, code)
    site = f"{settings.SITE_URL}{reverse('printed_list')}"
    areas = [each.printed for each in queries.areas_of(sheet)]
    by = sheet.printed_by.name_at(sheet.printed_at)
    content = sheet_pdf(sheet, areas, company=company_name(), site=site, by=by)
    headers = {"Content-Disposition": f'inline; filename="sheet-{sheet.code}.pdf"'}
    return HttpResponse(content, content_type="application/pdf", headers=headers)


@require_POST
def printed_change(request: SignedIn, code: str, deed: str) -> HttpResponse:
    """Set a sheet aside, or bring it back, with the reason."""
    recorder(request, PRINT)
    sheet = _sheet_or_404(request, code)
    act: Callable[..., Any] = actions.withdraw_sheet if deed == "withdraw" else actions.restore_sheet
    form = forms.Because(request.POST)
    if carried_out(form, lambda values: act(request.user, sheet=sheet, **values)):
        done = "set aside; what was entered from it stays" if deed == "withdraw" else "brought back"
        messages.success(request, f"Sheet {sheet.code} is {done}.")
        return redirect("printed_sheet", sheet.code)
    return _sheet_page(request, sheet, form)


@page
def printed_enter(request: SignedIn, code: str, number: int) -> HttpResponse:
    """What was written on one area's paper, box by box; stored as any measurement is."""
    recorder(request, ENTER)
    sheet = _sheet_or_404(request, code)
    rows = PrintedArea.objects.filter(sheet=sheet).select_related(
        "sheet__project", "area__structure__project", "area__section", "coat__system"
    )
    printed = get_object_or_404(rows, number=number)
    entered = queries.entered_from(printed)
    asking: tuple[Fault, ...] = ()
    with timezone.override(sheet.project.zone):
        form = forms.Enter(request.POST or None, by=request.user, printed=printed)
        if form.is_bound and form.is_valid():
            try:
                record, new = actions.enter_printed(
                    request.user, printed=printed, confirmed=form.is_confirmed, **form.sent
                )
            except Asked as question:
                asking = question.faults
            except Refused as refusal:
                put_into(form, _in_boxes(refusal, form))
            else:
                told = "is stored" if new else "was entered already, with the same content; nothing was changed"
                tell_stored(request, f"{printed.code} {told}.", record)
                return redirect("thickness", record.pk)
        context = {
            "form": form, "printed": printed, "sheet": sheet, "project": sheet.project, "asking": asking,
            "entered": entered, "unit": Unit(sheet.project.unit).label,
            "changed": changes_since(printed.plan, printed.area, printed.coat, sheet.project.unit),
        }  # fmt: skip
        return render(request, "fieldwork/printed_enter.html", context, status=422 if asking else status_of(form))


def _in_boxes(refusal: Refused, form: forms.Enter) -> Refused:
    """A fault of the nth reading belongs beside its box; a refusal of another sort stays what it is."""
    if not any(fault.row for fault in refusal.faults):
        return refusal
    # The readings are made of the boxes that are filled, in their order.
    names = [name for *_, name in form.boxes if form.cleaned_data.get(name) is not None]
    return Refused(Fault(fault.message, names[fault.row - 1]) if fault.row else fault for fault in refusal.faults)
