"""The page of one's calendar links, and the feed behind one."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.forms import carried_out, sent, status_of
from accounts.middleware import SignedIn
from reports.attention import calendar as calendars
from reports.attention import forms
from reports.attention.models import CalendarLink


@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
def calendar(request: SignedIn) -> HttpResponse:
    """One's links; a POST makes another and shows its address, this once."""
    form = forms.NewCalendarLink(sent(request))
    made: list[tuple[CalendarLink, str]] = []
    shown: dict[str, Any] = {"form": form}
    if carried_out(form, lambda values: made.append(calendars.make_link(request.user, **values))):
        link, token = made[0]
        address = f"{settings.SITE_URL}{reverse('calendar_feed', args=[token])}"
        shown |= {"made": link, "address": address, "form": forms.NewCalendarLink()}
    shown["links"] = CalendarLink.objects.filter(person=request.user, revoked_at=None)
    return render(request, "reports/calendar.html", shown, status=status_of(form))


@require_POST
def calendar_revoke(request: SignedIn, pk: UUID) -> HttpResponse:
    link = get_object_or_404(CalendarLink, pk=pk, person=request.user)
    calendars.revoke_link(request.user, link=link)
    messages.success(request, f"The link {link.name} is revoked; nothing can be read by it any more.")
    return redirect("calendar")


@require_safe
def calendar_feed(request: HttpRequest, token: str) -> HttpResponse:
    owner = calendars.owner_of(token)
    if owner is None:
        raise Http404
    answer = HttpResponse(calendars.feed(owner), content_type="text/calendar; charset=utf-8")
    answer["Content-Disposition"] = 'inline; filename="what-runs-out.ics"'
    answer["Referrer-Policy"] = "no-referrer"
    return answer
