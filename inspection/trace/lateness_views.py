"""The page that says what it costs to calibrate or check a gauge late."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.instruments import gauge_errors
from inspection.instruments.models import Gauge
from inspection.trace.lateness import Lateness

# What a reading costs is the company's own; clients are not told.
READERS = (Role.INSPECTOR, Role.QUALITY_MANAGER, Role.ADMINISTRATOR, Role.AUDITOR)


@require_safe
def gauge_lateness(request: SignedIn, pk: UUID) -> HttpResponse:
    """By the errors that the gauge's history shows, chosen there and named in the address."""
    require(request.user, *READERS, to="see what a late calibration costs")
    gauge = get_object_or_404(Gauge.objects.visible_to(request.user).filter(kind=Gauge.Kind.THICKNESS), pk=pk)
    as_found = request.GET.get("checks") == gauge_errors.CHECKS_AS_FOUND
    series = gauge_errors.series_of(gauge, request.user, as_found=as_found)
    chosen = next((one for one in series if one.key == request.GET.get("on")), series[0] if series else None)
    shown = {
        "thing": gauge,
        "late": Lateness(gauge, request.user, timezone.now(), chosen),
        "as_found": as_found,
        "fewest_for_drift": gauge_errors.FEWEST_FOR_DRIFT,
    }
    return render(request, "trace/lateness.html", shown)
