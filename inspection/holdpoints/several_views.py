"""Several points of a project in one go: not applicable, presented, with another letter; and each way back."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.narrowing import keeping, narrowed
from inspection.holdpoints import actions, forms, matrix
from inspection.holdpoints.actions.several import PRESENTERS
from inspection.holdpoints.departures import letters_given
from inspection.holdpoints.models import HoldPoint
from inspection.holdpoints.queries import MOST_AT_ONCE
from inspection.projects.models import Project, Section

Deed = Callable[..., Any]
# By its name in addresses and the API: what is done, in words, and what is told once it is.
DEEDS: dict[str, tuple[Deed, str, str]] = {
    "present": (actions.present_points, "Present: it can be looked at now", "presented"),
    "unpresent": (actions.take_presentation_back, "Take back that it was presented", "no longer presented"),
    "close": (actions.close_points, "Not applicable", "not applicable"),
    "reopen": (actions.reopen_points, "Take back that it is not applicable", "waiting again"),
    "letter": (actions.give_letter, "Give a party another letter there", "given another letter"),
    "unletter": (
        actions.take_letter_back,
        "Let the line’s letters hold again",
        "under its line’s letters again",
    ),
}
OF_PRESENTERS = ("present", "unpresent")


def deeds_of(person: Person) -> list[str]:
    """The deeds that the person may do, by name."""
    return list(DEEDS) if person.has_role(Role.QUALITY_MANAGER) else list(OF_PRESENTERS)


@require_http_methods(["GET", "HEAD", "POST"])
def points_several(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    require(request.user, *PRESENTERS, to="change several points")
    deeds = [(name, DEEDS[name][1]) for name in deeds_of(request.user)]
    form = forms.ChangeSeveral(
        request.POST or None, deeds=deeds, shown=request.POST.getlist("shown")[:MOST_AT_ONCE], project=project,
        initial={"deed": deeds[0][0]},
    )  # fmt: skip
    done: list[str] = []

    def act(values: dict[str, Any]) -> None:
        deed, _, told = DEEDS[values.pop("deed")]
        deed(request.user, project=project, **values)
        many = len(values["points"])
        done.append(f"{'1 point is' if many == 1 else f'{many} points are'} {told}.")

    if carried_out(form, act):
        messages.success(request, done[0])
        return redirect(request.get_full_path())
    shown = {"project": project, "form": form, "most": MOST_AT_ONCE, **_chosen_from(request, project)}
    return render(request, "holdpoints/several.html", shown, status=status_of(form))


def _chosen_from(request: SignedIn, project: Project) -> dict[str, Any]:
    """The points that the address narrows to, by area and line; of more than one signature covers the first."""
    narrow = narrowed(request, "section", "line", "state", "words")
    sections = Section.objects.visible_to(request.user).filter(structure__project=project).select_related("structure")
    section = next((each for each in sections if str(each.pk) == narrow.get("section")), None)
    lines = matrix.lines_shown(project, person=request.user)
    state = narrow.get("state", "") if narrow.get("state") in matrix.STATES else ""
    areas = matrix.areas_shown(request.user, project, section=section, words=narrow.get("words", ""))
    points = HoldPoint.objects.filter(project=project, area__in=areas.order_by())
    if line := next((each for each in lines if str(each.pk) == narrow.get("line")), None):
        points = points.filter(line=line)
    if state:
        points = points.filter(matrix.STATES[state][1])
    rows = list(
        points.select_related("area__section", "coat", "line")
        .order_by("area__code", "line__order_key", "coat__order", "pk")[: MOST_AT_ONCE + 1]
    )  # fmt: skip
    given = letters_given([point.pk for point in rows], request.user)
    return {
        "rows": [(point, given.get(point.pk, "")) for point in rows[:MOST_AT_ONCE]], "more": len(rows) > MOST_AT_ONCE,
        "narrow": narrow, "query": keeping(**narrow), "sections": sections, "lines": lines,
        "states": [(key, words) for key, (words, _) in matrix.STATES.items()],
    }  # fmt: skip
