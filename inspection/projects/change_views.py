"""Pages on which an inspection area is changed: what hangs on it is shown before anything is stored."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django import forms as django_forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from accounts.forms import carried_out
from accounts.journal import digest_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rehearsal import rehearse
from accounts.rights import require
from inspection.foundation.lookalikes import tell_alike
from inspection.foundation.refusals import NotAllowed, Refused
from inspection.projects import breakdown, division, forms, queries, tank_sizes
from inspection.projects.areas import rounded
from inspection.projects.breakdown import Change
from inspection.projects.models import InspectionArea
from inspection.projects.tree_views import one_form, structure_of, tree_address

page = require_http_methods(["GET", "HEAD", "POST"])


DONE = "{area} is {change}; the journal keeps why."


@dataclass(frozen=True)
class Deed:
    """One change of an area: what it needs a right to, its form and action, and the words of its page."""

    to: str
    form: Callable[..., django_forms.Form]
    act: Callable[..., Any]
    change: Change
    heading: str
    submit: str
    question: str = ""
    # What was done, if the change does not say it.
    done: str = ""


DEEDS = {
    "measure": Deed(
        "measure an area again", forms.MeasureArea, breakdown.measure_again, Change.MEASURED,
        "Measure {area} again", "Store the sizes", "What is recorded from now on is judged by the new size.",
    ),
    "tank-sizes": Deed(
        "declare the lengths of an area", forms.TankSizes, tank_sizes.declare_tank_sizes, Change.MEASURED,
        "What IMO counts in {area}", "Declare it",
        "MSC.215(82), annex 3, wants readings along boundaries, in sets on stiffeners and primary members, at openings "
        "and in complex areas, besides one for each 5 m² of flat surface. Take lengths from the tank, with its "
        "brackets and cut-outs. What is recorded from now on is judged by what you declare.",
        "What is counted in {area} is declared; the journal keeps why.",
    ),
    "rename": Deed(
        "rename an area", forms.RenameArea, breakdown.rename_area, Change.RENAMED, "Rename {area}", "Rename it",
    ),
    "move": Deed("move an area", forms.MoveArea, breakdown.move_area, Change.MOVED, "Move {area}", "Move it"),
    "system": Deed(
        "change the coating system of an area", forms.ChangeSystem, breakdown.change_system, Change.SYSTEM,
        "Change the coating system of {area}", "Change it",
        "What is recorded from now on is judged by the coats of the new system; what arrives late of the former is "
        "still kept. Giving the area its former system back opens the points again that were closed.",
    ),
    "retire": Deed(
        "retire an area", forms.EndArea, breakdown.retire_area, Change.RETIRED, "Retire {area}", "Retire it",
        "Nothing new begins on a retired area, and it no longer stands among what is next. Its records and decisions "
        "stay, what arrives late is still kept, and it can be brought back.",
    ),
    "restore": Deed(
        "bring an area back", forms.EndArea, division.restore_area, Change.RESTORED, "Bring {area} back",
        "Bring it back", "It is in use again, and points that were closed with it wait again.",
    ),
}  # fmt: skip


@page
def area_change(request: SignedIn, pk: UUID, deed: str) -> HttpResponse:
    areas = InspectionArea.objects.visible_to(request.user).select_related(*queries.WITH_PLACE, "structure__project")
    area, asked = get_object_or_404(areas, pk=pk), DEEDS[deed]
    require(request.user, Role.QUALITY_MANAGER, to=asked.to)
    form = asked.form(request.POST or None, area=area)
    shown: dict[str, Any] = {}

    def act(values: dict[str, Any]) -> None:
        more = _replaced_again(request, area) if asked.change == Change.RESTORED else ()
        shown.update(
            told_first(
                request, values, [area], asked.change, lambda given: asked.act(request.user, area=area, **given), more
            )
        )

    if carried_out(form, act) and not shown:
        messages.success(request, (asked.done or DONE).format(area=area.code, change=asked.change))
        if asked.change == Change.RENAMED:
            others = queries.areas_of(area.structure.project, retired=True).exclude(pk=area.pk)
            tell_alike(request, [form.cleaned_data["code"]], others.values_list("code", flat=True))
        return redirect("area", area.pk)
    return one_form(
        request, area.structure, form, asked.heading.format(area=area.code), asked.submit, question=asked.question,
        cancel=reverse("area", args=[area.pk]), trail=queries.trail_of(area.section), **shown,
    )  # fmt: skip


def _replaced_again(request: SignedIn, area: InspectionArea) -> list[str]:
    """What becomes of the areas that took its place, when it comes back."""
    parts = division.parts_of(area)
    if not parts:
        return []
    named = ", ".join(part.label for part in parts)
    return [f"{named} took its place; that is taken back.", *breakdown.touched(request.user, parts, Change.RETIRED)]


def told_first(
    request: SignedIn,
    values: dict[str, Any],
    areas: list[InspectionArea],
    change: Change,
    act: Callable[[dict[str, Any]], Any],
    more: Sequence[str] = (),
) -> dict[str, Any]:
    """Carry it out, unless something hangs on the areas that was not shown yet: then that, and nothing is stored.

    What was shown is known by its digest, together with the values it was shown for.
    """
    touched = [*more, *breakdown.touched(request.user, areas, change)]
    digest = digest_of({"values": values, "touched": touched})
    if touched and request.POST.get("confirmed") != digest:
        rehearse(lambda: act(values), but="")
        return {"touched": touched, "confirmed": digest, "touched_head": "Before it is stored:"}
    act(values)
    return {}


@page
def area_divide(request: SignedIn, pk: UUID) -> HttpResponse:
    """The parts of an area, a row each; how many is chosen by a link before typing."""
    areas = InspectionArea.objects.visible_to(request.user).select_related(*queries.WITH_PLACE, "structure__project")
    area = get_object_or_404(areas, pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="divide an area")
    data, count = request.POST or None, forms.part_count(request.POST.get("parts") or request.GET.get("parts"), area)
    form, rows = forms.Because(data), forms.part_rows(area, count, data)
    shown: dict[str, Any] = {}
    if data is not None and all([form.is_valid(), *(row.is_valid() for row in rows)]):
        try:
            shown = _divided(request, area, form, rows)
        except NotAllowed:
            raise
        except Refused as refusal:
            forms.show_refusal(refusal, form, rows)
        else:
            if not shown:
                messages.success(request, f"{area.code} is divided into {count} areas; its records stay with it.")
                return redirect(tree_address(area.structure, area.section))
    wrong = any(each.errors for each in [form, *rows])
    context = {
        "area": area, "structure": area.structure, "project": area.structure.project, "form": form, "rows": rows,
        "count": count, "counts": range(2, 13), "wrong": wrong, "forms": [form, *rows],
        "trail": queries.trail_of(area.section), **shown,
    }  # fmt: skip
    return render(request, "projects/area_divide.html", context, status=422 if wrong else 200)


def _divided(request: SignedIn, area: InspectionArea, form: Any, rows: list[forms.PartRow]) -> dict[str, Any]:
    """Divide it, or what is to be shown before it is divided."""
    reason, parts = form.cleaned_data["reason"], [row.part() for row in rows]
    rest = area.area_m2 - sum(rounded(part.area_m2) for part in parts)
    left = [f"{rest.normalize():f} m² of {area.label} lie in none of the parts."] if rest > 0 else []
    left += _declared([area])
    values = {"reason": reason, "parts": [row.cleaned_data for row in rows]}

    def act(given: dict[str, Any]) -> None:
        division.divide_area(request.user, area=area, parts=parts, reason=reason)

    return told_first(request, values, [area], Change.DIVIDED, act, left)


def _declared(areas: Sequence[InspectionArea]) -> list[str]:
    """That what IMO counts by length is declared anew, where it was declared."""
    declared = [area.label for area in areas if area.tank_sizes]
    return [f"What IMO counts by length in {', '.join(declared)} is to be declared anew."] if declared else []


@page
def areas_merge(request: SignedIn, pk: UUID) -> HttpResponse:
    found = structure_of(request, pk)
    require(request.user, Role.QUALITY_MANAGER, to="merge areas")
    area = forms.named(found.areas.all(), request.GET.get("area"))
    form = forms.MergeAreas(request.POST or None, structure=found, initial={"areas": f"{area.code}\n"} if area else {})
    shown: dict[str, Any] = {}

    def act(values: dict[str, Any]) -> None:
        areas = values["areas"]
        size = sum(each.area_m2 for each in areas)
        named = ", ".join(each.label for each in areas)
        told = [f"{named} are retired; the new area has {size} m².", *_declared(areas)]
        shown.update(
            told_first(
                request, values, areas, Change.MERGED, lambda given: division.merge_areas(request.user, **given), told
            )
        )

    if carried_out(form, act) and not shown:
        messages.success(request, f"{form.cleaned_data['code']} takes their place; their records stay with them.")
        return redirect(tree_address(found))
    return one_form(request, found, form, "Merge areas", "Merge them", **shown)
