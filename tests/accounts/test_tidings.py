"""What people choose how to hear of: at once, in one letter an hour, or on the pages only; each thing once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.core import mail
from django.test import Client
from django.urls import reverse

from accounts import post, tidings
from accounts.models import JournalEntry, Letter, Person, PostChoice, Tiding
from inspection.foundation.refusals import Refused
from inspection.projects.actions import end_membership
from inspection.projects.models import Membership
from tests.cast import Cast
from tests.projects.test_pages import as_person

TEN = datetime(2026, 3, 4, 10, 5, tzinfo=UTC)


def tell(cast: Cast, about: str, *, to: Person | None = None, kind: str = "point-ready", foreign: bool = False) -> bool:
    site = cast.foreign if foreign else cast.site
    return tidings.tell(
        kind, about, to=to or cast.clara, project=site.project.pk, subject=f"{site.project.code}, point {about}",
        body=f"https://example.com/points/{about}",
    )  # fmt: skip


def sweep(at: datetime) -> list[Any]:
    """As the scheduler does, twice, since a task may be run twice."""
    sent = len(mail.outbox)
    for _ in range(2):
        with time_machine.travel(at, tick=False):
            tidings.write_digests()
            post.send_due()
    return mail.outbox[sent:]


def test_one_letter_an_hour_tells_each_thing_once(cast: Cast) -> None:
    with time_machine.travel(TEN, tick=False):
        assert tell(cast, "A")
        assert tell(cast, "B")
        assert not tell(cast, "A")
    assert sweep(TEN + timedelta(minutes=50)) == []
    [letter] = sweep(TEN + timedelta(hours=1))
    assert (letter.to, letter.subject) == ([cast.clara.email], "2 things that concern you")
    assert letter.body.count("P-1, point A") == letter.body.count("P-1, point B") == 1
    assert reverse("letter_choices") in letter.body
    with time_machine.travel(TEN + timedelta(hours=1, minutes=1), tick=False):
        assert not tell(cast, "A")
        assert tell(cast, "C")
    assert sweep(TEN + timedelta(hours=1, minutes=20)) == []
    [later] = sweep(TEN + timedelta(hours=9))
    assert later.subject == "1 thing that concerns you"
    assert "point C" in later.body
    assert not Tiding.objects.waiting().exists()


def test_a_worker_that_died_after_writing_the_digest_loses_and_doubles_nothing(cast: Cast) -> None:
    with time_machine.travel(TEN, tick=False):
        tell(cast, "A")
    with time_machine.travel(TEN + timedelta(hours=1), tick=False):
        tidings.write_digests()
    with time_machine.travel(TEN + timedelta(hours=1, minutes=1), tick=False):
        tell(cast, "B")
    sent = sweep(TEN + timedelta(hours=5))
    assert ["point A" in letter.body for letter in sent] == [True, False]
    assert ["point B" in letter.body for letter in sent] == [False, True]


def test_a_digest_tells_nothing_of_a_project_that_its_reader_left_before_it_was_sent(cast: Cast) -> None:
    Membership.objects.create(
        project=cast.foreign.project, person=cast.ines, organisation=cast.company, role="inspector"
    )
    with time_machine.travel(TEN, tick=False):
        tell(cast, "A", to=cast.ines)
        tell(cast, "F", to=cast.ines, foreign=True)
        tell(cast, "A", to=cast.clara)
    with time_machine.travel(TEN + timedelta(hours=1), tick=False):
        tidings.write_digests()
    for project, person in ((cast.foreign.project, cast.ines), (cast.site.project, cast.clara)):
        end_membership(cast.quinn, membership=Membership.objects.get(project=project, person=person))
    [letter] = sweep(TEN + timedelta(hours=1, minutes=5))
    assert (letter.to, letter.subject) == ([cast.ines.email], "1 thing that concerns you")
    assert "P-2" not in letter.body
    assert Letter.objects.get(person=cast.clara).set_aside_at


def test_at_once_and_pages_only_are_what_they_say(cast: Cast) -> None:
    tidings.choose(cast.clara, ways={"point-ready": "at_once", "refused": "page"})
    with time_machine.travel(TEN, tick=False):
        assert tell(cast, "A")
        assert not tell(cast, "A", kind="refused")
        # Told before in another way.
        tidings.choose(cast.clara, ways={"point-ready": "digest"})
        assert not tell(cast, "A")
    [letter] = sweep(TEN)
    assert letter.subject == "P-1, point A"
    assert not Tiding.objects.exists()


def test_a_choice_is_kept_and_journalled_and_what_is_not_offered_is_refused(cast: Cast) -> None:
    with pytest.raises(Refused, match="Choose one of the ways offered"):
        tidings.choose(cast.clara, ways={"refused": "pigeon"})
    with pytest.raises(Refused, match="There is no such kind of letter"):
        tidings.choose(cast.clara, ways={"password_reset": "page"})
    client, address = as_person(cast.clara), reverse("letter_choices")
    assert "Choose your letters" in client.get(reverse("me")).content.decode()
    ways = tidings.ways_of(cast.clara)
    assert client.post(address, {**ways, "released-in-doubt": "page"}).status_code == 302
    assert tidings.ways_of(cast.clara) == {**ways, "released-in-doubt": "page"}
    assert tidings.ways_of(cast.carl)["released-in-doubt"] == "at_once"
    entry = JournalEntry.objects.get(verb="letters.chosen")
    assert ((entry.before or {})["released-in-doubt"], (entry.after or {})["released-in-doubt"]) == ("at_once", "page")
    wrong = client.post(address, {**ways, "released-in-doubt": "pigeon"})
    assert wrong.status_code == 422
    assert PostChoice.objects.get(person=cast.clara, kind="released-in-doubt").way == "page"


def test_the_api_reads_and_sets_the_same_choice(cast: Cast) -> None:
    client: Client = as_person(cast.clara)
    assert client.get("/api/me/letters/").json()["point_ready"] == "digest"
    answer = client.put("/api/me/letters/", {"point_ready": "page"}, content_type="application/json")
    assert (answer.status_code, answer.json()["point_ready"]) == (200, "page")
    assert tidings.ways_of(cast.clara)["point-ready"] == "page"
    wrong = client.put("/api/me/letters/", {"point_ready": "pigeon"}, content_type="application/json")
    assert wrong.status_code == 422


def test_telling_many_of_many_things_asks_no_more_than_telling_one(
    cast: Cast, django_assert_max_num_queries: Any
) -> None:
    def news(numbers: range) -> list[tidings.News]:
        project = cast.site.project.pk
        return [
            tidings.News(str(number), to, project, "Ready", "x") for number in numbers for to in (cast.clara, cast.ines)
        ]

    with django_assert_max_num_queries(20) as one:
        tidings.tell_all("point-ready", news(range(1)))
    with django_assert_max_num_queries(20) as many:
        assert tidings.tell_all("point-ready", news(range(40))) == 78
    assert len(many) == len(one)
