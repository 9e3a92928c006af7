"""Pages on which it is declared how the days of a project are reported."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from accounts.forms import carried_out, sent, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.projects.models import Project
from reports.daily import dividing, forms
from reports.daily.models import Reporting
from reports.daily.parts import in_force, parts_of, rules_of

page = require_http_methods(["GET", "HEAD", "POST"])
SHOWN = 20


@page
def project_reporting(request: SignedIn, pk: UUID) -> HttpResponse:
    """Into which papers the project's days are divided; a POST declares it anew."""
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="declare how its days are reported")
    today, rules = project.day_of(timezone.now()), rules_of(project)
    holds = in_force(rules, today)
    initial = {
        "one_a": holds.one_a if holds else Reporting.OneA.DAY, "from_day": today + timedelta(days=1),
        "shift_names": holds.shift_names if holds else "",
    }  # fmt: skip
    form = forms.DeclareReporting(sent(request), initial=initial, project=project)
    if carried_out(form, lambda values: dividing.declare_reporting(request.user, project=project, **values)):
        messages.success(request, "Declared. Drafts of these days are built so.")
        return redirect("project_reporting", project.pk)
    rows: Any = Reporting.objects.visible_to(request.user).filter(project=project).select_related("entered_by")
    stand = {rule.pk for rule in rules}
    shown = {
        "project": project, "form": form, "parts": parts_of(project, today, rules), "holds": holds, "today": today,
        "rows": [(row, row.pk in stand) for row in rows.order_by("-entered_at", "-pk")[:SHOWN]],
    }  # fmt: skip
    return render(request, "reports/project_reporting.html", shown, status=status_of(form))


@page
def reporting_back(request: SignedIn, pk: UUID) -> HttpResponse:
    """Take such a declaration back."""
    rows: Any = Reporting.objects.visible_to(request.user).select_related("project", "entered_by")
    row = get_object_or_404(rows, pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="take such a declaration back")
    form = forms.WhyBack(sent(request))
    if carried_out(form, lambda values: dividing.take_reporting_back(request.user, reporting=row, **values)):
        messages.success(request, "It is taken back; the days are reported as before it.")
        return redirect("project_reporting", row.project_id)
    shown = {"project": row.project, "row": row, "form": form}
    return render(request, "reports/reporting_back.html", shown, status=status_of(form))
