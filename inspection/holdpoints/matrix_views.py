"""The matrix of a project, and the plan applied to its areas."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.foundation.narrowing import keeping, narrowed
from inspection.holdpoints import actions, forms, matrix
from inspection.holdpoints.actions.applying import Applied
from inspection.holdpoints.actions.several import PRESENTERS
from inspection.plan.models import PlanLine
from inspection.projects.models import Party, Project

page = require_http_methods(["GET", "HEAD", "POST"])
AREAS_A_PAGE = 50


@require_safe
def points_matrix(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    narrow = narrowed(request, "section", "activity", "state", "party", "words")
    sections = matrix.sections_shown(request.user, project)
    section = next((each for each in sections if str(each.pk) == narrow.get("section")), None)
    activity, party, state = (narrow.get(name, "") for name in ("activity", "party", "state"))
    lines = matrix.lines_shown(project, activity=activity, party=party, person=request.user)
    areas = matrix.areas_shown(
        request.user, project, section=section, state=state if state in matrix.STATES else "",
        words=narrow.get("words", ""),
    )  # fmt: skip
    told = areas.select_related("section").only("code", "section__path")
    shown = Paginator(told, AREAS_A_PAGE).get_page(request.GET.get("page"))
    return render(
        request,
        "holdpoints/matrix.html",
        {
            "project": project,
            "lines": lines,
            "rows": matrix.rows_of(list(shown), lines, project, request.user),
            "page": shown,
            "query": keeping(**narrow),
            "narrow": narrow,
            "sections": sections,
            "activities": PlanLine.Activity.choices,
            "states": [(key, words) for key, (words, _) in matrix.STATES.items()],
            "kinds": Party.Kind.choices,
            "may_notify": request.user.has_role(Role.INSPECTOR, Role.QUALITY_MANAGER, Role.CONTRACTOR),
            "may_change": request.user.has_role(*PRESENTERS),
            "may_apply": request.user.has_role(Role.QUALITY_MANAGER),
        },
    )


@page
def plan_apply(request: SignedIn, pk: UUID) -> HttpResponse:
    """Apply the plan in force to areas: how many points come is said before they do."""
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="apply a plan")
    form = forms.ApplyPlan(request.POST or None, project=project)
    done: list[Applied] = []

    def act(values: dict[str, Any]) -> None:
        done.append(actions.apply_plan(request.user, project=project, areas=values["areas"]))

    if carried_out(form, act):
        made = done[0]
        messages.success(request, f"{made.planned:,} points are planned on {made.areas:,} areas.")
        for words in made.without_coat:
            messages.warning(request, f"Left out: {words}.")
        return redirect("points_matrix", pk)
    lines = matrix.lines_shown(project)
    shown = {"project": project, "form": form, "lines": lines, "submit": "Plan the points"}
    return render(request, "holdpoints/apply.html", shown, status=status_of(form))
