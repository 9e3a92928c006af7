"""Pages of the heads of papers: the company's own, and each project's."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from accounts import vault
from accounts.forms import carried_out, sent, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.projects.models import Project
from reports.papers import actions, forms
from reports.papers.models import CompanyHead, ProjectHead

page = require_http_methods(["GET", "HEAD", "POST"])
SHOWN = 10


@page
def company_head(request: SignedIn) -> HttpResponse:
    """Address and logo of the company, as papers bear them; a POST enters them anew."""
    require(request.user, *actions.SETTERS, to="set the head of the company’s papers")
    rows = CompanyHead.objects.select_related("entered_by", "logo").order_by("-entered_at", "-pk")
    last = rows.first()
    files = request.FILES if request.method == "POST" else None
    form = forms.CompanyHeadForm(sent(request), files, initial={"address": last.address if last else ""})
    if carried_out(form, lambda values: actions.enter_company_head(request.user, **values)):
        messages.success(request, "Entered. Papers of days from now on bear it.")
        return redirect("company_head")
    shown = {"form": form, "last": last, "rows": rows[:SHOWN]}
    return render(request, "reports/company_head.html", shown, status=status_of(form))


@require_safe
def company_logo(request: SignedIn, digest: str) -> HttpResponse:
    """A logo that papers bear or bore."""
    require(request.user, *actions.SETTERS, to="set the head of the company’s papers")
    found = CompanyHead.objects.filter(logo=digest).select_related("logo").first()
    if found is None or found.logo is None:
        raise Http404
    answer = HttpResponse(vault.content_of(found.logo), content_type=found.logo.media_type)
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


@page
def project_head(request: SignedIn, pk: UUID) -> HttpResponse:
    """Order number, references and distribution list of a project's papers; a POST enters them anew."""
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="set the head of a project’s papers")
    rows: Any = ProjectHead.objects.visible_to(request.user).filter(project=project).select_related("entered_by")
    rows = rows.order_by("-entered_at", "-pk")
    last = rows.first()
    initial = {name: getattr(last, name) for name in actions.TOLD} if last else {}
    form = forms.ProjectHeadForm(sent(request), initial=initial)
    if carried_out(form, lambda values: actions.enter_project_head(request.user, project=project, **values)):
        messages.success(request, "Entered. Reports of days from now on bear it.")
        return redirect("project_head", project.pk)
    shown = {"project": project, "form": form, "rows": rows[:SHOWN]}
    return render(request, "reports/project_head.html", shown, status=status_of(form))
