"""A notice as an appointment that calendars take up: iCalendar (RFC 5545), sent as RFC 5546 has it."""

from __future__ import annotations

from datetime import UTC, datetime
from email.utils import parseaddr
from enum import StrEnum
from urllib.parse import urlsplit

from django.conf import settings
from django.urls import reverse
from icalendar import Calendar, Event, vCalAddress, vText

from accounts.models import Person
from accounts.queries import company_name
from inspection.notices.models import Notice


class Method(StrEnum):
    """What is asked of the calendar: to take it in, to take it out, or only to show it."""

    REQUEST = "REQUEST"
    CANCEL = "CANCEL"
    PUBLISH = "PUBLISH"


def appointment(notice: Notice, told: str, *, method: Method, at: datetime, to: Person | None = None) -> str:
    """The notice in iCalendar: always the same UID, a SEQUENCE that grows with each change, times in UTC.

    `told` is its text, `at` when it was said so. An appointment that is published has no attendee (RFC 5546, 3.2.1).
    """
    calendar = Calendar()
    calendar.add("prodid", "-//Stripecoat//Inspection notices//EN")
    calendar.add("version", "2.0")
    calendar.add("method", method.value)
    calendar.add_component(_event(notice, told, method, at, to))
    text: str = calendar.to_ical().decode()
    return text


def _event(notice: Notice, told: str, method: Method, at: datetime, to: Person | None) -> Event:
    page = f"{settings.SITE_URL}{reverse('notice', args=[notice.pk])}"
    event = Event()
    event.add("uid", f"notice-{notice.pk}@{urlsplit(settings.SITE_URL).hostname}")
    event.add("sequence", notice.sequence)
    event.add("dtstamp", at.astimezone(UTC).replace(microsecond=0))
    event.add("dtstart", notice.begins_at.astimezone(UTC).replace(microsecond=0))
    event.add("dtend", notice.ends_at.astimezone(UTC).replace(microsecond=0))
    event.add("summary", f"{notice.project.code}: inspection, {notice}")
    event.add("location", notice.meeting_place)
    event.add("description", f"{told}\n\n{page}")
    event.add("url", page)
    event.add("status", "CANCELLED" if notice.state == Notice.State.WITHDRAWN else "CONFIRMED")
    organiser = vCalAddress(f"mailto:{parseaddr(settings.DEFAULT_FROM_EMAIL)[1]}")
    organiser.params["cn"] = vText(company_name())
    event.add("organizer", organiser)
    if to is not None:
        attendee = vCalAddress(f"mailto:{to.email}")
        attendee.params["cn"] = vText(to.name)
        attendee.params["partstat"] = vText("NEEDS-ACTION")
        attendee.params["rsvp"] = vText("FALSE")
        event.add("attendee", attendee)
    return event
