"""Pages of lots: the list of a project, one of them, beginning, ending, correcting, withdrawing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from accounts.asking import stored_or_asked
from accounts.forms import answered, sent, status_of
from accounts.middleware import SignedIn
from accounts.rights import require
from inspection.foundation.ids import new_id
from inspection.foundation.narrowing import keeping, narrowed
from inspection.projects.models import InspectionArea, Project
from inspection.works import forms
from inspection.works.lots import actions as lots
from inspection.works.lots import forms as lot_forms
from inspection.works.lots import queries
from inspection.works.lots.mixes import drawn_of, mix_doubts
from inspection.works.lots.recoat import project_windows, soon
from inspection.works.lots.windows import windows_of
from inspection.works.lots.withdrawn_paint import withdrawn_paint_of
from inspection.works.models import Lot

page = require_http_methods(["GET", "HEAD", "POST"])
A_PAGE = 50
STATES = (("open", "Under way"), ("ended", "Ended"), ("withdrawn", "Withdrawn"))


@require_safe
def lot_list(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    narrow = narrowed(request, "area", "activity", "state")
    narrow.pop("project", None)
    area = narrow.get("area")
    rows = queries.lots_listed(
        request.user, project, area=UUID(area) if area else None, state=narrow.get("state", ""),
        activity=narrow["activity"] if narrow.get("activity") in Lot.Activity.values else "",
    )  # fmt: skip
    shown = {
        "project": project, "page": Paginator(rows, A_PAGE).get_page(request.GET.get("page")),
        "query": keeping(**narrow), "narrow": narrow, "activities": Lot.Activity.choices, "states": STATES,
        "area": InspectionArea.objects.visible_to(request.user).filter(pk=area).first() if area else None,
        "may_log": queries.may_log(request.user) and not project.closed_at,
    }  # fmt: skip
    return render(request, "works/lot_list.html", shown)


def _lot(request: SignedIn, pk: UUID) -> Lot:
    return get_object_or_404(queries.lots_seen(request.user), pk=pk)


@require_safe
def lot(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _lot(request, pk)
    later = getattr(found, "replaced_by", None)
    stands = later is None and found.withdrawn_at is None
    parents = list(found.parents.all())
    now = queries.now_of(parents, request.user)
    shown = {
        "lot": found, "project": found.project, "later": later, "versions": queries.versions_of(found, request.user),
        "parents": [now[each.parent.number] for each in parents if each.parent.number in now],
        "mix_doubts": _mix_doubts(found),
        "windows": _windows(found) if stands else [], "may_log": queries.may_log(request.user), "stands": stands,
        "paint": withdrawn_paint_of(found),
    }  # fmt: skip
    return render(request, "works/lot.html", shown)


def _mix_doubts(found: Lot) -> list[str]:
    """What speaks against the lot's mixes by what is known now, and was not told when it was entered."""
    drawn = drawn_of(found)
    doubts = mix_doubts(found.project, found.coat, found.begun_at, found.ended_at, drawn, number=found.number)
    now = [fault.message for fault in doubts] if drawn else []
    return [words for words in now if words not in found.gone_over]


def _windows(found: Lot) -> list[Any]:
    """Of the lot's places whose topmost coat it made: when that may be painted over."""
    if found.ended_at is None or found.coat_id is None:
        return []
    ids = [place.area_id for place in found.places.all()]
    areas = list(InspectionArea.objects.filter(pk__in=ids).select_related("system", "structure").order_by("code"))
    return [each for each in windows_of(areas, timezone.now()) if found in each.lots]


@page
def lot_new(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    require(request.user, *lots.LOGGERS, to="record a lot")
    form = lot_forms.WriteLot(
        sent(request), by=request.user, project=project, initial={"id": new_id(), **_asked_for(request)}
    )
    stored: list[Lot] = []

    def act(values: dict[str, Any]) -> None:
        begun, _ = lots.begin_lot(
            request.user, id=values["id"], project=project, sent=form.sent(), confirmed=form.is_confirmed
        )
        stored.append(begun)

    done, asking = stored_or_asked(form, act)
    if done:
        messages.success(request, f"{stored[0]} is recorded.")
        return redirect("lot", stored[0].pk)
    return _form(request, project, form, "Record a lot", "Record it", asking=asking,
                 cancel=reverse("lot_list", args=[project.pk]))  # fmt: skip


def _asked_for(request: SignedIn) -> dict[str, Any]:
    """What an address that leads here says of the lot: an area by its id, an activity."""
    narrow = narrowed(request, "area", "activity")
    area = (
        InspectionArea.objects.visible_to(request.user).filter(pk=narrow["area"]).first() if "area" in narrow else None
    )
    given: dict[str, Any] = {"places": area.label} if area else {}
    return {**given, "activity": narrow["activity"]} if narrow.get("activity") in Lot.Activity.values else given


@page
def lot_correct(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _lot(request, pk)
    require(request.user, *lots.LOGGERS, to="correct a lot")
    form = lot_forms.CorrectLot(
        sent(request), by=request.user, project=found.project, of=found,
        initial={"id": new_id(), **lot_forms.as_recorded(found)},
    )  # fmt: skip
    stored: list[Lot] = []

    def act(values: dict[str, Any]) -> None:
        new, _ = lots.correct_lot(
            request.user, lot=found, id=values["id"], sent=form.sent(), reason=values["reason"],
            confirmed=form.is_confirmed,
        )  # fmt: skip
        stored.append(new)

    done, asking = stored_or_asked(form, act)
    if done:
        messages.success(request, f"{stored[0]} is corrected; the version before stays readable.")
        return redirect("lot", stored[0].pk)
    return _form(request, found.project, form, f"Correct {found}", "Store the correction", lot=found, asking=asking,
                 cancel=reverse("lot", args=[pk]))  # fmt: skip


@page
def lot_end(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _lot(request, pk)
    require(request.user, *lots.LOGGERS, to="end a lot")
    form = lot_forms.EndLot(sent(request), thing=found, by=request.user)
    return _deed(request, found, form, lots.end_lot, f"End {found}", "End it", f"{found} has ended.")


@page
def lot_withdraw(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _lot(request, pk)
    require(request.user, *lots.LOGGERS, to="withdraw a lot")
    form = forms.Why(sent(request), thing=found)
    told = "It stays readable and counts for nothing. It can be brought back."
    return _deed(request, found, form, lots.withdraw_lot, f"Withdraw {found}", "Withdraw it",
                 f"{found} is withdrawn.", question=told)  # fmt: skip


@page
def lot_restore(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _lot(request, pk)
    require(request.user, *lots.LOGGERS, to="bring a lot back")
    form = forms.Why(sent(request), thing=found)
    return _deed(request, found, form, lots.restore_lot, f"Bring {found} back", "Bring it back",
                 f"{found} counts again.")  # fmt: skip


def _deed(
    request: SignedIn, found: Lot, form: Any, act: Callable[..., Any], heading: str, submit: str, told: str, **more: Any
) -> HttpResponse:
    return answered(
        request, form, lambda values: act(request.user, lot=found, **values), told=told,
        then=redirect("lot", found.pk),
        again=lambda: _form(request, found.project, form, heading, submit, lot=found,
                            cancel=reverse("lot", args=[found.pk]), **more),
    )  # fmt: skip


def _form(
    request: SignedIn, project: Project, form: Any, heading: str, submit: str, *, asking: list[str] | None = None,
    **more: Any,
) -> HttpResponse:  # fmt: skip
    shown = {
        "project": project, "form": form, "heading": heading, "submit": submit, "touched": asking,
        "confirmed": form.as_asked if asking else "", "touched_head": "Is this meant?", **more,
    }  # fmt: skip
    return render(request, "works/lot_form.html", shown, status=422 if asking else status_of(form))


@require_safe
def recoat_clock(request: SignedIn, pk: UUID) -> HttpResponse:
    """Which places of the project open or close until the project's day ends, and all others that wait for a coat."""
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    now = timezone.now()
    _, until = project.day_bounds(project.day_of(now))
    windows = project_windows(request.user, project, now)
    urgent = soon(windows, until)
    rest = [each for each in windows if each not in urgent]
    shown = {
        "project": project, "urgent": urgent, "until": until,
        "page": Paginator(rest, A_PAGE).get_page(request.GET.get("page")),
    }  # fmt: skip
    return render(request, "works/recoat_clock.html", shown)
