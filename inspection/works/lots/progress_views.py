"""Pages of a project's progress and its mass balance."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.forms import status_of
from accounts.middleware import SignedIn
from inspection.foundation.charts import as_svg, progress_curves
from inspection.projects.models import Project
from inspection.works.lots.forms import DeclaredLoss
from inspection.works.lots.mass_balance import MAY_DIFFER_PCT, balances
from inspection.works.lots.progress import DAYS, forecast, progress_of, summed


@require_safe
def progress(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    found = progress_of(request.user, project)
    form = DeclaredLoss(request.GET or None)
    declared = form.cleaned_data["loss"] if form.is_bound and form.is_valid() else None
    shown = {
        "project": project, "progress": found, "form": form, "balances": balances(found.lines, declared),
        "forecast": forecast(found, project.day_of(timezone.now())), "days": DAYS, "may_differ": MAY_DIFFER_PCT,
    }  # fmt: skip
    return render(request, "works/progress.html", shown, status=status_of(form))


@require_safe
def progress_chart(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    found = progress_of(request.user, project)
    drawing = progress_curves(
        [("claimed by lots", summed(found.claimed)), ("inspected", summed(found.inspected))],
        total=float(found.total_m2), title=f"{project.code}, all coats",
    )  # fmt: skip
    return HttpResponse(as_svg(drawing), content_type="image/svg+xml")
