"""Pages of a painting contractor's people: what is asked of them, and how their areas stand."""

from __future__ import annotations

from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.projects.models import Project
from reports.attention import contractors

A_PAGE = 50


@require_safe
def asked_of_us(request: SignedIn) -> HttpResponse:
    require(request.user, Role.CONTRACTOR, to="see what is asked of a contractor")
    rows = Paginator(contractors.asked_of(request.user), A_PAGE).get_page(request.GET.get("page"))
    projects = Project.objects.visible_to(request.user).filter(closed_at=None)
    return render(request, "reports/asked_of_us.html", {"page": rows, "projects": projects})


@require_safe
def areas_of_ours(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    require(request.user, Role.CONTRACTOR, to="see how a contractor's areas stand")
    words = request.GET.get("area", "").strip()[:60]
    areas = Paginator(contractors.areas_of_scope(request.user, project, words), A_PAGE)
    page = areas.get_page(request.GET.get("page"))
    stands = contractors.how_they_stand(request.user, list(page))
    kept = urlencode({"area": words}) + "&" if words else ""
    shown = {"project": project, "page": page, "stands": stands, "words": words, "query": kept}
    return render(request, "reports/areas_of_ours.html", shown)
