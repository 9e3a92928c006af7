"""Pages on which an inspection area is changed: what hangs on it is shown before anything is stored."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django import forms as django_forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from accounts.forms import carried_out
from accounts.journal import digest_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rehearsal import rehearse
from accounts.rights import require
from inspection.foundation.lookalikes import tell_alike
from inspection.projects import breakdown, forms, queries
from inspection.projects.breakdown import Change
from inspection.projects.models import InspectionArea
from inspection.projects.tree_views import one_form

page = require_http_methods(["GET", "HEAD", "POST"])


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


DEEDS = {
    "measure": Deed(
        "measure an area again", forms.MeasureArea, breakdown.measure_again, Change.MEASURED,
        "Measure {area} again", "Store the sizes", "What is recorded from now on is judged by the new size.",
    ),
    "rename": Deed(
        "rename an area", forms.RenameArea, breakdown.rename_area, Change.RENAMED, "Rename {area}", "Rename it",
    ),
    "move": Deed("move an area", forms.MoveArea, breakdown.move_area, Change.MOVED, "Move {area}", "Move it"),
    "retire": Deed(
        "retire an area", forms.EndArea, breakdown.retire_area, Change.RETIRED, "Retire {area}", "Retire it",
        "Nothing new begins on a retired area, and it no longer stands among what is next. Its records and decisions "
        "stay, what arrives late is still kept, and it can be brought back.",
    ),
    "restore": Deed(
        "bring an area back", forms.EndArea, breakdown.restore_area, Change.RESTORED, "Bring {area} back",
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

    def act(values: dict[str, Any]) -> Any:
        return asked.act(request.user, area=area, **values)

    if (
        carried_out(form, lambda values: shown.update(told_first(request, values, [area], asked.change, act)))
        and not shown
    ):
        messages.success(request, f"{area.code} is {asked.change}; the journal keeps why.")
        if asked.change == Change.RENAMED:
            others = queries.areas_of(area.structure.project, retired=True).exclude(pk=area.pk)
            tell_alike(request, [form.cleaned_data["code"]], others.values_list("code", flat=True))
        return redirect("area", area.pk)
    return one_form(
        request, area.structure, form, asked.heading.format(area=area.code), asked.submit, question=asked.question,
        cancel=reverse("area", args=[area.pk]), trail=queries.trail_of(area.section), **shown,
    )  # fmt: skip


def told_first(
    request: SignedIn,
    values: dict[str, Any],
    areas: list[InspectionArea],
    change: Change,
    act: Callable[[dict[str, Any]], Any],
    more: list[str] | None = None,
) -> dict[str, Any]:
    """Carry it out, unless something hangs on the areas that was not shown yet: then that, and nothing is stored.

    What was shown is known by its digest, together with the values it was shown for.
    """
    touched = [*(more or ()), *breakdown.touched(request.user, areas, change)]
    digest = digest_of({"values": values, "touched": touched})
    if touched and request.POST.get("confirmed") != digest:
        rehearse(lambda: act(values), but="")
        return {"touched": touched, "confirmed": digest, "touched_head": "Before it is stored:"}
    act(values)
    return {}
