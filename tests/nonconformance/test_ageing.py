"""A nonconformance ages: it is told after 3, 7 and 14 days, once each; an action is overdue by the project's own day.

The ages are common practice, no source.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import JournalEntry, Person, Tiding
from inspection.nonconformance import actions
from inspection.nonconformance.ageing import escalate, overdue
from inspection.projects.models import Project
from tests.cast import MORNING, Cast
from tests.nonconformance.test_answers import runs
from tests.nonconformance.test_by_hand import raised_by
from tests.nonconformance.test_sayings import say
from tests.past_triggers import rewrite
from tests.projects.test_pages import as_person, text_of
from tests.projects.test_party_ways import painters

pytestmark = pytest.mark.django_db
NOON = datetime(2026, 3, 9, 12, 0, tzinfo=UTC)


def told(about: str) -> set[Person]:
    return {row.person for row in Tiding.objects.filter(kind="nonconformance-aged", about=about)}


def test_each_age_is_told_once_to_more_people_and_stands_on_the_page(cast: Cast) -> None:
    _, pia = painters(cast)
    with time_machine.travel(NOON, tick=False):
        raised, draft = runs(cast), raised_by(cast.clara, cast, against="project")
    assert escalate(NOON + timedelta(days=2)) == 0
    first, later = [escalate(NOON + timedelta(days=3, hours=hour)) for hour in (0, 1)]
    assert (first, later) == (2, 0)
    assert told(f"{raised.pk}:3") == {cast.quinn, cast.ines, pia}
    assert told(f"{draft.pk}:3") == {cast.quinn}
    # Days without a worker: only the highest age is told.
    escalate(NOON + timedelta(days=20))
    assert told(f"{raised.pk}:7") == set()
    assert told(f"{raised.pk}:14") == {cast.quinn, cast.ines, pia, cast.clara, cast.admin}
    entries = JournalEntry.objects.filter(verb="nonconformance.aged", object_id=str(raised.pk))
    assert [entry.after for entry in entries.order_by("pk")] == [{"days": 3, "people": 3}, {"days": 14, "people": 5}]
    with time_machine.travel(NOON + timedelta(days=20), tick=False):
        page = text_of(as_person(cast.quinn).get(reverse("nonconformance", args=[raised.pk])))
    assert ("20 days" in page, "after 14 days" in page, "to 5 people" in page) == (True, True, True)
    with CaptureQueriesContext(connection) as few:
        escalate(NOON + timedelta(days=21))
    with time_machine.travel(NOON, tick=False):
        for _ in range(9):
            runs(cast)
    escalate(NOON + timedelta(days=21))
    with CaptureQueriesContext(connection) as many:
        assert escalate(NOON + timedelta(days=22)) == 0
    assert len(few) == len(many)


def test_an_action_is_overdue_by_the_day_of_its_project_and_told_once(cast: Cast) -> None:
    Project.objects.filter(pk=cast.site.project.pk).update(time_zone="Pacific/Auckland")
    raised = runs(cast)
    rewrite(type(raised).objects.filter(pk=raised.pk), raised_at=MORNING)
    raised.refresh_from_db()
    action = say(cast.quinn, raised, "action", "Gauge the tips", done_by="Foreman", due=date(2026, 3, 9))
    # At 11:30 UTC the tenth has begun in Auckland (UTC+13 in March), not in London.
    before, after = NOON.replace(hour=10, minute=59), NOON.replace(hour=11, minute=30)
    assert [list(overdue(cast.quinn, at)) for at in (before, after)] == [[], [action]]
    assert list(overdue(cast.carl, after)) == []
    escalate(after)
    escalate(after + timedelta(hours=1))
    assert told(f"{action.pk}:overdue") == {cast.quinn, cast.ines}
    with time_machine.travel(after, tick=False):
        assert "Overdue" in text_of(as_person(cast.quinn).get(reverse("nonconformance", args=[raised.pk])))
    say(cast.ines, raised, "completed", about=action, done_at=MORNING)
    assert list(overdue(cast.quinn, after)) == []
    actions.take_back(cast.ines, disposition=raised.dispositions.get(kind="completed"), reason="not yet")
    assert list(overdue(cast.quinn, after)) == [action]
