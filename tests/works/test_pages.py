"""Crews and shifts on their pages and in the API, as those who work them see them."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from inspection.standing.models import Standing
from inspection.works.crews import add_people
from inspection.works.models import Crew, Shift
from inspection.works.shifts import start_shift
from tests.cast import Cast
from tests.projects.test_pages import as_person
from tests.standing.scene import clock, measure, verify
from tests.works.scene import crew_of, plan

PATTERN = {
    "first": "2026-03-04", "last": "2026-03-06", "weekdays": ["2", "3", "4"], "begins": "08:00", "ends": "22:00",
}  # fmt: skip


def test_a_crew_is_set_up_staffed_and_planned_and_what_that_changes_is_shown_first(cast: Cast) -> None:
    verify(cast, "08:10")
    record = measure(cast, "17:30", "18:30")
    verify(cast, "21:40")
    client, project = as_person(cast.quinn), cast.site.project
    party = project.parties.get(kind="inspection")
    client.post(reverse("crew_new", args=[project.pk]), {"party": party.pk, "name": "Long days"})
    crew = Crew.objects.get()
    sent = {"people": [cast.ines.pk], "begun_at": "2026-03-04T00:00"}
    assert client.post(reverse("crew_people", args=[crew.pk]), sent).status_code == 302
    address = reverse("shifts_plan", args=[crew.pk])
    shown = client.post(address, PATTERN)
    page = shown.content.decode()
    assert "3 shifts would be planned. Nothing is stored yet." in page
    assert "1 record judged again, in question before, sound then" in page
    assert not Shift.objects.exists()
    done = client.post(address, {**PATTERN, "confirmed": shown.context["confirmed"]}, follow=True)
    assert "3 shifts of Long days are planned." in done.content.decode()
    assert Standing.objects.get(pk=record.pk).state == "sound"
    again = client.post(address, PATTERN).content.decode()
    assert "0 shifts would be planned" in again
    assert "stands already" in again
    wrong = client.post(address, {**PATTERN, "ends": "noon", "weekdays": []})
    assert wrong.status_code == 422
    assert "Write a time of day, such as 06:00." in wrong.content.decode()
    assert as_person(cast.igor).get(reverse("crew", args=[crew.pk])).status_code == 404


def test_the_days_work_offers_the_shift_to_whoever_is_in_the_crew(cast: Cast) -> None:
    crew = crew_of(cast, "Days", cast.ines)
    client = as_person(cast.ines)
    assert "Begin the shift" in client.get(reverse("today")).content.decode()
    address = reverse("shift_start", args=[crew.pk])
    assert client.post(address, {"from": "today"})["Location"] == reverse("today")
    client.post(address, {"from": "today"})
    shift = Shift.objects.get()
    page = client.get(reverse("today")).content.decode()
    assert "End the shift" in page
    assert "without a plan; taken to end by" in page
    client.post(reverse("shift_end", args=[shift.pk]), {"from": "today"})
    shift.refresh_from_db()
    assert shift.ended_at
    assert as_person(cast.clara).post(address).status_code == 403


def test_a_forgotten_end_is_told_as_assumed_and_put_right_by_whoever_was_there(cast: Cast) -> None:
    crew = crew_of(cast, "Days", cast.ines)
    shift, _ = start_shift(cast.ines, crew=crew, at=clock("06:00"))
    client, address = as_person(cast.ines), reverse("crew", args=[crew.pk])
    assert "End assumed" in client.get(address).content.decode()
    assert "End assumed" in as_person(cast.clara).get(address).content.decode()
    correct = reverse("shift_correct", args=[shift.pk])
    assert as_person(cast.clara).get(correct).status_code == 403
    sent = {"begun_at": "2026-03-04T06:00", "ended_at": "2026-03-04T23:00", "reason": "forgotten"}
    wrong = client.post(correct, sent)
    assert wrong.status_code == 422
    assert "would last 17 h; a shift is at most 16 h" in wrong.content.decode()
    assert client.post(correct, {**sent, "ended_at": "2026-03-04T15:20"}).status_code == 302
    assert "End assumed" not in client.get(address).content.decode()


def test_a_time_that_came_twice_in_the_night_the_clocks_go_back_is_asked_for_with_its_offset(cast: Cast) -> None:
    cast.site.project.time_zone = "Europe/Oslo"
    cast.site.project.save()
    crew = crew_of(cast, "Nights", cast.ines)
    shift = plan(cast, crew, "06:00", "14:00")
    sent = {"planned_begin": "2026-10-24T22:00", "planned_end": "2026-10-25T02:30", "reason": "as planned"}
    answer = as_person(cast.quinn).post(reverse("shift_replan", args=[shift.pk]), sent)
    assert answer.status_code == 422
    assert "02:30 came twice that night" in answer.content.decode()
    sent["planned_end"] = "2026-10-25 02:30+01:00"
    assert as_person(cast.quinn).post(reverse("shift_replan", args=[shift.pk]), sent).status_code == 302
    shift.refresh_from_db()
    assert shift.ends_at - shift.begins_at == timedelta(hours=5, minutes=30)


def test_the_pages_ask_no_more_however_many_crews_people_and_shifts_there_are(
    cast: Cast, django_assert_max_num_queries: Any
) -> None:
    crew = crew_of(cast, "Days", cast.ines)
    client, project = as_person(cast.ines), cast.site.project
    pages = [reverse("crew_list", args=[project.pk]), reverse("crew", args=[crew.pk]), reverse("today")]

    def asked() -> list[int]:
        counts = []
        for address in pages:
            with django_assert_max_num_queries(60) as queries:
                assert client.get(address).status_code == 200
            counts.append(len(queries))
        return counts

    Shift.objects.create(crew=crew, begun_at=timezone.now() - timedelta(minutes=5))
    few = asked()
    for number in range(3):
        more = crew_of(cast, f"Crew {number}")
        Shift.objects.create(crew=more, begun_at=timezone.now() - timedelta(minutes=5))
        Shift.objects.create(crew=crew, begun_at=timezone.now() - timedelta(days=2 + number))
    add_people(cast.quinn, crew=crew, people=[cast.quinn], begun_at=timezone.now())
    assert asked() == few


def test_the_api_does_what_the_pages_do_in_the_same_words(cast: Cast) -> None:
    client, project = as_person(cast.quinn), cast.site.project
    send: dict[str, Any] = {"content_type": "application/json"}
    party = project.parties.get(kind="inspection")
    crew = client.post("/api/crews/add/", {"project": project.pk, "party": party.pk, "name": "Days"}, **send).json()
    sent = {"people": [cast.ines.pk], "begun_at": "2026-03-04T00:00:00Z"}
    assert client.post(f"/api/crews/{crew['id']}/people/", sent, **send).json()["people"][0]["name"] == "Ines Inspector"
    strange = client.post(f"/api/crews/{crew['id']}/people/", {**sent, "people": [cast.carl.pk]}, **send)
    assert (strange.status_code, "Not everybody named belongs to The Company" in strange.content.decode()) == (
        404,
        True,
    )
    pattern = {**PATTERN, "weekdays": [2, 3, 4]}
    assert len(client.post(f"/api/crews/{crew['id']}/plan/", pattern, **send).json()) == 3
    meets = client.post(f"/api/crews/{crew['id']}/plan/", {**pattern, "begins": "09:00"}, **send)
    assert meets.status_code == 422
    assert "meets another shift of Days" in meets.content.decode()
    shift = client.post(f"/api/crews/{crew['id']}/start/", {"at": "2026-03-04T07:50:00Z"}, **send).json()
    assert (shift["begins_at"], shift["ends_at"]) == ("2026-03-04T07:50:00Z", "2026-03-04T22:00:00Z")
    ended = client.post(f"/api/shifts/{shift['id']}/end/", {"at": "2026-03-04T21:30:00Z"}, **send).json()
    assert (ended["ends_at"], ended["end_is_assumed"]) == ("2026-03-04T21:30:00Z", False)


@pytest.mark.browser
def test_the_pages_of_crews_work_on_a_phone_and_a_desk(cast: Cast, page_as: Any, axe: Any) -> None:
    crew = crew_of(cast, "Days", cast.ines)
    shift = plan(cast, crew, "06:00", "16:00")
    start_shift(cast.ines, crew=crew, at=clock("05:55"))
    part = crew.people.get()
    project = cast.site.project
    addresses = [
        reverse("crew_list", args=[project.pk]), reverse("crew", args=[crew.pk]),
        reverse("crew_new", args=[project.pk]), reverse("crew_people", args=[crew.pk]),
        reverse("shifts_plan", args=[crew.pk]), reverse("shift_correct", args=[shift.pk]),
        reverse("crew_part_correct", args=[part.pk]), reverse("crew_end", args=[crew.pk]),
    ]  # fmt: skip
    for width, dark in ((390, False), (1280, True)):
        page = page_as(cast.quinn, width=width, dark=dark)
        for address in addresses:
            page.goto(address)
            axe(page)
    page.goto(addresses[4])
    page.get_by_label("Last day").fill("2026-03-20")
    page.get_by_label("First day").fill("2026-03-09")
    page.get_by_role("button", name="Show these shifts").click()
    page.get_by_text("Nothing is stored yet").first.wait_for()
    axe(page)
    page.get_by_role("button", name="Plan these shifts").click()
    page.get_by_text("10 shifts of Days are planned").wait_for()
