"""The inspector's landing page."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.middleware import SignedIn
from inspection.fieldwork import queries, todays_work
from inspection.fieldwork.views.common import paged, recorder

PROJECTS_A_PAGE = 5


@require_safe
def today(request: SignedIn) -> HttpResponse:
    recorder(request, "see today's work")
    now = timezone.now()
    page = paged(request, queries.open_projects(request.user).prefetch_related("schemes_asked"), PROJECTS_A_PAGE)
    projects = todays_work.today(request.user, now, page.object_list)
    under_way = [each.project.pk for each in projects if each.is_under_way] or [
        each.project.pk for each in projects[:1]
    ]
    context = {
        "projects": projects, "page": page, "now": now, "under_way": under_way,
        "instruments": todays_work.instruments_of(projects),
    }  # fmt: skip
    return render(request, "fieldwork/today.html", context)
