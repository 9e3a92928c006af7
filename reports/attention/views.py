"""Where each person lands, and what needs a decision."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from reports.attention import needs
from reports.attention.landing import landing_of


@require_safe
def home(request: SignedIn) -> HttpResponse:
    """Each role lands on what it came for."""
    return redirect(landing_of(request.user))


@require_safe
def decisions(request: SignedIn) -> HttpResponse:
    require(request.user, Role.QUALITY_MANAGER, to="see what needs a decision")
    sections = needs.decisions(request.user, timezone.now())
    return render(request, "reports/decisions.html", {"sections": [one for one in sections if one.total]})
