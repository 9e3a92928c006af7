"""Measuring on a phone: begin a sheet, note reading after reading, void, finish."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from inspection.fieldwork import actions, forms, measuring, queries
from inspection.fieldwork.judging import Judgement, Plan, Spot, judge, limits_of_one, plan_of, spots_of, still_wanted
from inspection.fieldwork.models import Sheet, SheetReading, ThicknessRecord
from inspection.fieldwork.verdicts_shown import Places, checks_shown, limits_in_words, spots_shown
from inspection.fieldwork.views.common import (
    asked_area,
    page,
    project_or_404,
    put_into,
    recorder,
    replaced_or_404,
    tell_stored,
)
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Refused
from inspection.foundation.units import in_unit
from inspection.projects.steps import film_on
from inspection.works.belonging import shift_of


@page
def thickness_start(request: SignedIn, project: UUID) -> HttpResponse:
    """Choose area, coat, gauge and the way of the profile; `?area=` and `?replaces=` fill in what is known."""
    recorder(request)
    site = project_or_404(request, project)
    corrected = replaced_or_404(request, site, ThicknessRecord)
    area = corrected.area if corrected else asked_area(request, site)
    kind: type[forms.SetUp] = forms.BeginCorrection if corrected else forms.Begin
    initial = {"area": area, "coat": request.GET.get("coat", ""), "id": new_id()} | as_recorded(corrected)
    form = kind(request.POST or None, by=request.user, project=site, area=area, initial=initial)
    if form.is_bound and form.is_valid():
        wanted = {**form.cleaned_data, "id": form.cleaned_data["id"] or new_id()}
        try:
            sheet = actions.open_sheet(request.user, replaces=corrected, **wanted)
        except Refused as refusal:
            put_into(form, refusal)
        else:
            return redirect("sheet", pk=sheet.pk)
    now = timezone.now()
    gauges = list(queries.thickness_gauges(request.user).filter(holder=request.user))
    run_out = queries.run_out(request.user, gauges, site.day_of(now), site)
    told = measuring.beside(gauges, request.user, site, now)
    context = {
        "form": form, "project": site, "corrected": corrected, "gauges": gauges,
        "checks": queries.last_checks(gauges, *shift_of(request.user.pk, site, now)).values(), "run_out": run_out,
        "told": [(gauge, told[gauge.pk]) for gauge in gauges if gauge.pk in told],
    }  # fmt: skip
    return render(request, "fieldwork/thickness_start.html", context, status=status_of(form))


def as_recorded(record: ThicknessRecord | None) -> dict[str, Any]:
    """The set-up of a record that is to be corrected, as the form wants it."""
    if record is None:
        return {}
    unit = record.project.unit
    return {
        "coat": record.coat_id,
        "gauge": record.gauge_id,
        "profile_way": record.profile_way,
        "profile_record": record.profile_record_id,
        "correction": in_unit(record.correction_nm, unit, 3).rstrip("0").rstrip(".") if record.correction_nm else "",
    }


def _sheet_or_404(request: SignedIn, pk: UUID) -> Sheet:
    recorder(request)
    sheets = Sheet.objects.visible_to(request.user).select_related(
        "project", "area__structure", "coat__system", "gauge", "person"
    )
    return get_object_or_404(sheets, pk=pk)


@page
def sheet(request: SignedIn, pk: UUID) -> HttpResponse:
    """The sheet under way: note the next reading, see how the spot and the whole stand, choose another spot."""
    found = _sheet_or_404(request, pk)
    if found.closed_at and ThicknessRecord.objects.filter(pk=found.pk).exists():
        return redirect("thickness", pk=found.pk)
    form = forms.NoteReading(request.POST or None, unit=found.project.unit)
    if form.is_bound and form.is_valid():
        asked = form.cleaned_data
        try:
            actions.note_reading(
                request.user, sheet=found, spot=asked["spot"], value_nm=asked["value"], order=asked["order"]
            )
        except Refused as refusal:
            put_into(form, refusal)
        else:
            return _back_to_spot(found, asked["spot"])
    return _sheet_page(request, found, form)


def _back_to_spot(found: Sheet, spot: int) -> HttpResponse:
    """The sheet again, at the same spot as long as that wants readings."""
    plan, spots = plan_of(found.coat, found.area), spots_of(queries.sheet_readings(found), found.correction_nm)
    address = reverse("sheet", args=[found.pk])
    still_here = any(one.number == spot and _wants_readings(plan, one) for one in spots)
    return redirect(f"{address}?spot={spot}" if still_here else address)


def _wants_readings(plan: Plan, spot: Spot) -> bool:
    return bool(spot.wanting) if plan.by_spots else spot.repeat_missing


def _sheet_page(
    request: SignedIn, found: Sheet, form: forms.NoteReading, spot: int | None = None, **bound: Any
) -> HttpResponse:
    unit = found.project.unit
    readings = queries.sheet_readings(found)
    rows = {(row.spot, row.order): row for row in found.readings.all()}
    plan, spots = plan_of(found.coat, found.area), spots_of(readings, found.correction_nm)
    judged, trouble = _so_far(found, readings)
    wanted = spot or _asked_spot(request, form) or next_spot(plan, spots)
    newest = max(rows.values(), key=lambda row: row.pk, default=None)
    order = max((spot_order for spot, spot_order in rows if spot == wanted), default=0) + 1
    if not form.is_bound:
        form.initial = {"spot": wanted, "order": order}
    shown = spots_shown(readings, found.correction_nm, judged.result if judged else None, unit)
    current = next((one for one in shown if one.spot.number == wanted), None)
    counted, wanting = sum(len(spot.shown_nm) for spot in spots), still_wanted(plan, spots)
    low, nominal, high = film_on(found.area, found.coat).through
    least, most = limits_of_one(found.coat)
    moment = found.closed_at or timezone.now()
    shift = shift_of(found.person_id, found.project, moment)
    context = {
        "sheet": found, "project": found.project,
        "run_out": queries.run_out(found.person, [found.gauge], found.project.day_of(moment), found.project),
        "check": queries.last_checks([found.gauge], *shift).get(found.gauge_id),
        "told": [] if found.closed_at else measuring.of_sheet(found, readings, moment),
        "own": found.person_id == request.user.pk, "form": form,
        "finish": forms.FinishSheet(), "abandon": forms.AbandonSheet(),
        "least": least, "most": most, "minimum": low, "nominal": nominal, "maximum": high,
        "rule_in_words": limits_in_words(found.coat), "others": queries.others_measuring(found),
        "second": None if found.closed_at else queries.another_of_ones_own(found),
        "may_give_up": not found.closed_at and actions.may_give_up(request.user, found),
        "plan": plan, "counted": counted, "still_wanted": wanting, "of": counted + wanting,
        "spots": shown, "spot": wanted, "order": order, "current": current,
        "next_free": max((one.number for one in spots), default=0) + 1,
        "newest": newest if newest and not newest.void_reason else None, "slips": queries.slips_of(found.pk),
        "current_rows": [rows[reading.spot, reading.order] for reading in (current.readings if current else ())],
        "verdict": judged.verdict if judged else "", "trouble": trouble,
        "checks": checks_shown(judged.result, unit, Places(readings)) if judged else [],
    }  # fmt: skip
    return render(request, "fieldwork/sheet.html", context | bound, status=422 if form.errors or bound else 200)


def _so_far(found: Sheet, readings: list[Any]) -> tuple[Judgement | None, str]:
    """The verdict on what has been noted so far, and what keeps it from being judged."""
    if not any(not reading.void_reason for reading in readings):
        return None, ""
    try:
        return judge(film_on(found.area, found.coat), found.area, readings, found.correction_nm), ""
    except Refused as refusal:
        return None, "; ".join(fault.message for fault in refusal.faults)


def next_spot(plan: Plan, spots: tuple[Spot, ...]) -> int:
    """Where to measure next: a spot that still wants readings, else the first free number."""
    wanting = [spot.number for spot in spots if _wants_readings(plan, spot)]
    if wanting:
        return wanting[0]
    taken = {spot.number for spot in spots}
    return next(number for number in range(1, len(taken) + 2) if number not in taken)


def _asked_spot(request: SignedIn, form: forms.NoteReading) -> int | None:
    text = str(form.data.get("spot", "")) if form.is_bound else request.GET.get("spot", "")
    return int(text) if text.isascii() and text.isdigit() and 0 < len(text) <= 6 and int(text) else None


def _again(request: SignedIn, found: Sheet, **shown: Any) -> HttpResponse:
    """The sheet with the form that was sent and not carried out."""
    return _sheet_page(request, found, forms.NoteReading(None, unit=found.project.unit), **shown)


def _reading_or_404(found: Sheet, pk: int) -> SheetReading:
    return get_object_or_404(SheetReading.objects.select_related("sheet"), sheet=found, pk=pk)


@require_POST
def sheet_reading_void(request: SignedIn, pk: UUID, reading: int) -> HttpResponse:
    found = _sheet_or_404(request, pk)
    row, form = _reading_or_404(found, reading), forms.VoidReading(request.POST)
    if carried_out(form, lambda v: actions.void_sheet_reading(request.user, reading=row, reason=v["void_reason"])):
        messages.success(request, f"Reading {row.order} of spot {row.spot} is voided; take a repeat reading there.")
        return _back_to_spot(found, row.spot)
    return _again(request, found, voiding=form, voided=row, spot=row.spot)


@require_POST
def sheet_reading_right(request: SignedIn, pk: UUID, reading: int) -> HttpResponse:
    """Put a typing slip right at once."""
    found = _sheet_or_404(request, pk)
    row, form = _reading_or_404(found, reading), forms.PutReadingRight(request.POST, unit=found.project.unit)
    if carried_out(form, lambda v: actions.put_reading_right(request.user, reading=row, value_nm=v["value"])):
        messages.success(request, f"Reading {row.order} of spot {row.spot} is put right; the journal keeps both.")
        return _back_to_spot(found, row.spot)
    return _again(request, found, righting=form, righted=row, spot=row.spot)


@require_POST
def sheet_finish(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _sheet_or_404(request, pk)
    form = forms.FinishSheet(request.POST)
    if carried_out(form, lambda v: actions.finish_sheet(request.user, sheet=found, note=v["note"])):
        tell_stored(
            request, "The record is stored.", ThicknessRecord.objects.select_related("project").get(pk=found.pk)
        )
        return redirect("thickness", pk=found.pk)
    return _again(request, found, finish=form)


@require_POST
def sheet_abandon(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _sheet_or_404(request, pk)
    form = forms.AbandonSheet(request.POST)
    if carried_out(form, lambda v: actions.abandon_sheet(request.user, sheet=found, reason=v["reason"])):
        messages.success(request, "The sheet is closed without a record; its readings are kept.")
        return redirect("today")
    return _again(request, found, abandon=form)
