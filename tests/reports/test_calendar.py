"""The calendar feed, read back by the reference library icalendar."""

from __future__ import annotations

from datetime import date

from django.test import Client
from django.urls import reverse
from icalendar import Calendar

from accounts.models import Person, Qualification
from reports.attention import calendar
from reports.attention.models import CalendarLink
from tests.cast import Cast, scheme
from tests.reports.test_pages import client_of, text

EXPIRES = date(2026, 9, 1)


def events(person: Person) -> dict[str, tuple[date, date]]:
    """Summary, first and (excluded) last day of what the person's link gives to somebody who is not signed in."""
    _, token = calendar.make_link(person, name="phone")
    answer = Client().get(reverse("calendar_feed", args=[token]))
    assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8"
    read = Calendar.from_ical(answer.content)
    return {str(event["summary"]): (event["dtstart"].dt, event["dtend"].dt) for event in read.walk("VEVENT")}


def test_a_manager_sees_all_that_runs_out_as_whole_days(cast: Cast) -> None:
    Qualification.objects.create(
        person=cast.ines,
        scheme=scheme(),
        level="2",
        number="CI-17",
        issued=date(2023, 1, 1),
        expires=EXPIRES,
    )
    whole_day = (EXPIRES, date(2026, 9, 2))
    assert events(cast.quinn) == {
        "Certificate CG-1 runs out: G-01": whole_day,
        "Certificate CS-1 runs out: S-125, S-250, S-50, S-500": whole_day,
        "Qualification runs out: Coating inspector 2, Ines Inspector": whole_day,
    }


def test_an_inspector_sees_what_they_hold_and_their_own_papers(cast: Cast) -> None:
    cast.gauge.holder = cast.ines
    cast.gauge.save()
    assert set(events(cast.ines)) == {"Certificate CG-1 runs out: G-01"}
    assert events(cast.igor) == {}


def test_reading_twice_gives_the_same_events_under_the_same_names(cast: Cast) -> None:
    assert calendar.feed(cast.quinn) == calendar.feed(cast.quinn)


def test_a_link_is_made_and_shown_once_on_the_page(cast: Cast) -> None:
    client = client_of(cast.ines)
    page = reverse("calendar")
    shown = text(client.post(page, {"name": "phone"}))
    link = CalendarLink.objects.get()
    address = shown.split('value="http://localhost:8000')[1].split('"')[0]
    assert Client().get(address).status_code == 200
    again = text(client.get(page))
    assert "phone" in again
    assert address not in again
    assert link.token_digest not in shown


def test_the_column_of_buttons_is_headed_in_plain_words(cast: Cast) -> None:
    calendar.make_link(cast.admin, name="desk")
    for page in (reverse("calendar"), reverse("person", args=[cast.ines.pk])):
        shown = client_of(cast.admin).get(page).content.decode()
        assert '<span class="visually-hidden">What to do</span></th>' in shown, page


def test_a_revoked_link_reads_nothing(cast: Cast) -> None:
    link, token = calendar.make_link(cast.ines, name="phone")
    client_of(cast.ines).post(reverse("calendar_revoke", args=[link.pk]))
    assert Client().get(reverse("calendar_feed", args=[token])).status_code == 404


def test_a_link_ends_when_its_owner_leaves(cast: Cast) -> None:
    _, token = calendar.make_link(cast.ines, name="phone")
    Person.objects.filter(pk=cast.ines.pk).update(is_active=False)
    assert Client().get(reverse("calendar_feed", args=[token])).status_code == 404


def test_there_are_not_more_links_than_anybody_can_mind(cast: Cast) -> None:
    for number in range(calendar.MOST_LINKS):
        calendar.make_link(cast.ines, name=f"{number}")
    answer = client_of(cast.ines).post(reverse("calendar"), {"name": "one more"})
    assert (answer.status_code, "You have 10 links" in text(answer)) == (422, True)


def test_a_stranger_cannot_guess_or_revoke(cast: Cast) -> None:
    link, _ = calendar.make_link(cast.ines, name="phone")
    assert Client().get(reverse("calendar_feed", args=["guess"])).status_code == 404
    assert client_of(cast.igor).post(reverse("calendar_revoke", args=[link.pk])).status_code == 404
    link.refresh_from_db()
    assert link.revoked_at is None
