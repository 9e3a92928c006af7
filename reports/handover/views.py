"""The page on which everything stands that is lacking before a project, or a section, can be handed over."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from django.core.paginator import Page, Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.middleware import SignedIn
from inspection.foundation.narrowing import keeping, narrowed
from inspection.projects.models import Project, Section
from inspection.projects.queries import sections_seen_by
from reports.handover.lacking import BY_KEY, Kind, Lack, Scope, counts

A_PAGE = 50


@dataclass(frozen=True)
class Window:
    """How many lack what, and one page of one kind, told with its age in days."""

    counts: list[tuple[Kind, int]]
    total: int
    kind: Kind | None
    page: Page | None
    rows: list[tuple[Lack, int | None]]


def window(scope: Scope, kind_key: str, page: str | None) -> Window:
    """The kind that is asked for, or the first of which something lacks."""
    found = counts(scope)
    lacking = [kind for kind, many in found if many]
    kind = BY_KEY.get(kind_key) or next(iter(lacking), None)
    total = sum(many for _, many in found)
    if kind is None:
        return Window(found, total, None, None, [])
    shown = Paginator(kind.rows(scope), A_PAGE).get_page(page)
    rows = [(lack, lack.days(scope.at)) for lack in kind.told(scope, list(shown))]
    return Window(found, total, kind, shown, rows)


@require_safe
def handover(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    narrow = narrowed(request, "section", "kind")
    sections = list(sections_seen_by(request.user).filter(structure__project=project).select_related("structure"))
    section = chosen(sections, narrow.get("section", ""))
    scope = Scope(request.user, project, section, timezone.now())
    seen = window(scope, narrow.get("kind", ""), request.GET.get("page"))
    kept = {"section": str(section.pk)} if section else {}
    shown = {
        "project": project,
        "sections": sections,
        "section": section,
        "window": seen,
        "kept": keeping(**kept),
        "query": keeping(**kept, **({"kind": seen.kind.key} if seen.kind else {})),
    }
    return render(request, "reports/handover.html", shown)


def chosen(sections: list[Section], pk: str) -> Section | None:
    """The section of that id among those in sight."""
    return next((each for each in sections if str(each.pk) == pk), None)
