"""The inspector's landing page."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.middleware import SignedIn
from inspection.fieldwork import queries
from inspection.fieldwork.views.common import recorder


@require_safe
def today(request: SignedIn) -> HttpResponse:
    recorder(request, "see today's work")
    now = timezone.now()
    return render(request, "fieldwork/today.html", {"projects": queries.today(request.user, now), "now": now})
