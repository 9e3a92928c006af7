"""What runs out or falls due today, as a calendar feed (RFC 5545) behind a private address its owner can revoke."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from urllib.parse import urlsplit

from django.conf import settings
from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from icalendar import Alarm, Calendar, Event

from accounts import journal
from accounts.models import Person, Role
from accounts.queries import company_name
from inspection.fieldwork.due import SOON
from inspection.foundation.refusals import Refused
from inspection.instruments.models import Certificate, Equipment
from reports.attention.due_soon import LONGEST, due_between
from reports.attention.models import CalendarLink
from reports.attention.running_out import running_certificates, running_qualifications

MOST_LINKS = 10
# Told ahead by the calendar program itself, as the letters are.
AHEAD = (timedelta(days=30), timedelta(days=7))


@transaction.atomic
def make_link(by: Person, *, name: str, at: datetime | None = None) -> tuple[CalendarLink, str]:
    """A new link and its token, which is shown once and not kept."""
    if CalendarLink.objects.filter(person=by, revoked_at=None).count() >= MOST_LINKS:
        raise Refused(f"You have {MOST_LINKS} links; revoke one that is no longer read.", field="name")
    token = secrets.token_urlsafe(32)
    link = CalendarLink.objects.create(
        person=by, name=name.strip(), token_digest=_digest(token), made_at=at or timezone.now()
    )
    journal.record("calendar_link.made", link, by=by, after={"name": link.name})
    return link, token


@transaction.atomic
def revoke_link(by: Person, *, link: CalendarLink, at: datetime | None = None) -> None:
    """End a link at once; revoking it again is quietly nothing."""
    if CalendarLink.objects.filter(pk=link.pk, person=by, revoked_at=None).update(revoked_at=at or timezone.now()):
        journal.record("calendar_link.revoked", link, by=by)


@transaction.atomic
def revoke_all(person: Person, *, by: Person, at: datetime | None = None) -> None:
    """End every link of somebody whose password was changed, or whose access is closed."""
    for link in CalendarLink.objects.select_for_update().filter(person=person, revoked_at=None):
        CalendarLink.objects.filter(pk=link.pk).update(revoked_at=at or timezone.now())
        journal.record("calendar_link.revoked", link, by=by)


def owner_of(token: str) -> Person | None:
    """Whose feed it is; None for a revoked or unknown token, and for people who have left or lost their roles."""
    link = CalendarLink.objects.select_related("person").filter(token_digest=_digest(token), revoked_at=None).first()
    return link.person if link and link.person.roles else None


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def feed(person: Person) -> bytes:
    """The person's calendar: as quality manager everything that runs out, else what they hold and their own papers."""
    calendar = Calendar()
    calendar.add("prodid", "-//Stripecoat//What runs out//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", f"{company_name()}: what runs out")
    calendar.add("refresh-interval", timedelta(hours=1), parameters={"value": "DURATION"})
    for event in (*_certificates(person), *_qualifications(person), *_due_today(person, timezone.now())):
        calendar.add_component(event)
    ical: bytes = calendar.to_ical()
    return ical


def _due_today(person: Person, at: datetime) -> Iterable[Event]:
    """Checks after work and climate readings of the person that fall due within a day, with an alarm before each."""
    for each in due_between(at, at + LONGEST, person):
        event = Event()
        event.add("summary", f"{each.words}, {each.project.code}")
        event.add("description", each.why)
        event.add("url", f"{settings.SITE_URL}{each.path}")
        event.add("uid", f"{each.name}@{urlsplit(settings.SITE_URL).hostname}")
        event.add("dtstamp", each.at)
        event.add("dtstart", each.at)
        event.add("dtend", each.at)
        event.add("transp", "TRANSPARENT")
        _alarm(event, SOON)
        yield event


def _certificates(person: Person) -> Iterable[Event]:
    everything = person.has_role(Role.QUALITY_MANAGER)
    for certificate, things in running_certificates().items():
        mine = things if everything else [thing for thing in things if thing.holder_id == person.pk]
        if mine:
            yield _certificate(certificate, mine)


def _certificate(certificate: Certificate, things: list[Equipment]) -> Event:
    event = Event()
    event.add("summary", f"Certificate {certificate} runs out: {', '.join(map(str, things))}")
    event.add("url", f"{settings.SITE_URL}{reverse('certificate', args=[certificate.pk])}")
    return _all_day(event, f"certificate-{certificate.pk}", certificate.expires, certificate.recorded_at)


def _qualifications(person: Person) -> Iterable[Event]:
    everything = person.has_role(Role.QUALITY_MANAGER)
    for paper, expires in running_qualifications():
        if everything or paper.person_id == person.pk:
            event = Event()
            event.add("summary", f"Qualification runs out: {paper}, {paper.person.name}")
            issued = datetime.combine(paper.issued, datetime.min.time(), tzinfo=timezone.get_default_timezone())
            yield _all_day(event, f"qualification-{paper.pk}", expires, issued)


def _all_day(event: Event, uid: str, day: date, stamp: datetime) -> Event:
    """An event of one whole day that blocks no time. Its end is the next day, which RFC 5545 does not count in."""
    event.add("uid", f"{uid}@{urlsplit(settings.SITE_URL).hostname}")
    event.add("dtstamp", stamp)
    event.add("dtstart", day)
    event.add("dtend", day + timedelta(days=1))
    event.add("transp", "TRANSPARENT")
    for ahead in AHEAD:
        _alarm(event, ahead)
    return event


def _alarm(event: Event, ahead: timedelta) -> None:
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", event["summary"])
    alarm.add("trigger", -ahead)
    event.add_component(alarm)
