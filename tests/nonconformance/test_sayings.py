"""The way of a nonconformance: class, containment, cause, disposition, actions, effect; and what keeps it from closing.

Stages and classes: common practice, no source.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import JournalEntry
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.nonconformance import actions
from inspection.nonconformance.models import Disposition, Nonconformance
from tests.cast import MORNING, PASSWORD, Cast
from tests.holdpoints.scene import climate_at
from tests.nonconformance.test_answers import runs
from tests.projects.test_pages import as_person, text_of

pytestmark = pytest.mark.django_db


def say(by: Any, raised: Nonconformance, kind: str, text: str = "As seen", **more: Any) -> Disposition:
    return actions.say(by, nonconformance=raised, kind=kind, text=text, **more)[0]


def sanded(cast: Cast, raised: Nonconformance) -> Disposition:
    return actions.record_rework(cast.ines, nonconformance=raised, what="Sanded", done_by="Crew 2", done_at=MORNING)


def close(cast: Cast, raised: Nonconformance) -> Disposition:
    return actions.close_nonconformance(cast.quinn, nonconformance=raised)


def test_the_whole_way_is_gone_on_the_page_and_each_thing_said_stands_at_its_head(cast: Cast) -> None:
    raised, ines, quinn = runs(cast), as_person(cast.ines), as_person(cast.quinn)
    address = reverse("nonconformance_say", args=[raised.pk])
    due = date.today() + timedelta(days=7)  # noqa: DTZ011 - any day to come
    for client, sent in (
        (ines, {"kind": "grade", "choice": "major", "text": "Clause 7.2: no runs"}),
        (ines, {"kind": "against", "choice": "procedure", "text": "PP-4 rev. 2"}),
        (ines, {"kind": "contained", "text": "Spraying stopped", "done_at": "2026-03-04T09:00"}),
        (ines, {"kind": "cause", "text": "Tip too wide"}),
        (quinn, {"kind": "decision", "choice": "rework", "text": "Sand and recoat"}),
        (quinn, {"kind": "action", "text": "Tips are gauged each shift", "done_by": "Foreman", "due": str(due)}),
    ):
        assert client.post(address, {"id": new_id(), **sent}).status_code == 302, sent
    page = text_of(quinn.get(reverse("nonconformance", args=[raised.pk])))
    for words in ("Major", "Clause 7.2", "PP-4 rev. 2", "Spraying stopped", "Tip too wide", "Corrective actions to do",
                  "Tips are gauged each shift", f"by {due}"):  # fmt: skip
        assert words in page, words
    action = raised.dispositions.get(kind="action")
    done = {
        "id": new_id(),
        "kind": "completed",
        "about": action.pk,
        "text": "Gauge bought",
        "done_at": "2026-03-05T09:00",
    }
    assert ines.post(address, done).status_code == 302
    assert "Corrective actions to do" not in text_of(quinn.get(reverse("nonconformance", args=[raised.pk])))
    sanded(cast, raised)
    assert quinn.post(address, {"kind": "effect", "choice": "reached", "text": "Even film"}).status_code == 302
    assert quinn.post(reverse("nonconformance_close", args=[raised.pk])).status_code == 302
    raised.refresh_from_db()
    assert (raised.state, raised.repair) == ("closed", "Sanded\nLooked at and closed")
    assert JournalEntry.objects.filter(verb="nonconformance.decision").count() == 1


def test_it_closes_on_a_disposition_rework_and_new_evidence_and_by_another_than_who_reworked(cast: Cast) -> None:
    raised = runs(cast)
    with pytest.raises(Refused, match="Nothing is decided about it"):
        close(cast, raised)
    decided = say(cast.quinn, raised, "decision", choice="as_it_is")
    with pytest.raises(Refused, match="closes by the client’s concession alone"):
        close(cast, raised)
    actions.take_back(cast.quinn, disposition=decided, reason="the client will not have it")
    say(cast.quinn, raised, "decision", choice="repair")
    with pytest.raises(Refused, match="No rework is recorded yet"):
        close(cast, raised)
    with pytest.raises(Refused, match="no effect to look at"):
        say(cast.quinn, raised, "effect", choice="reached")
    sanded(cast, raised)
    with pytest.raises(Refused, match="Nothing was recorded since the rework"):
        close(cast, raised)
    with pytest.raises(Refused, match="Another person looks at the effect"):
        say(cast.ines, raised, "effect", choice="reached")
    wanting = say(cast.quinn, raised, "effect", choice="not", text="Runs again")
    with pytest.raises(Refused, match="is not reached: rework it again"):
        close(cast, raised)
    actions.take_back(cast.quinn, disposition=wanting, reason="looked at the wrong frame")
    climate_at(cast, "23:00", wet="15.0", steel="18.0")
    close(cast, raised)
    raised.refresh_from_db()
    assert raised.state == "closed"


def test_a_manager_who_entered_the_rework_leaves_the_closing_to_another(cast: Cast) -> None:
    raised = runs(cast)
    say(cast.quinn, raised, "decision", choice="rework")
    actions.record_rework(cast.quinn, nonconformance=raised, what="Sanded", done_by="Crew 2", done_at=MORNING)
    say(cast.ines, raised, "effect", choice="reached")
    with pytest.raises(Refused, match="Another person closes it"):
        close(cast, raised)


def test_an_effect_found_wanting_after_closing_opens_it_again_and_taken_back_closes_it(cast: Cast) -> None:
    raised = runs(cast)
    sanded(cast, raised)
    say(cast.quinn, raised, "decision", choice="rework")
    say(cast.quinn, raised, "effect", choice="reached")
    close(cast, raised)
    wanting = say(cast.quinn, raised, "effect", choice="not", text="Runs again")
    raised.refresh_from_db()
    assert raised.state == "open"
    actions.take_back(cast.quinn, disposition=wanting, reason="another area")
    raised.refresh_from_db()
    assert raised.state == "closed"


def test_nothing_that_is_only_said_answers_a_nonconformance(cast: Cast) -> None:
    raised = runs(cast)
    for kind, more in (("grade", {"choice": "minor"}), ("cause", {}), ("comment", {})):
        say(cast.ines, raised, kind, **more)
    say(cast.quinn, raised, "decision", choice="as_it_is")
    raised.refresh_from_db()
    assert (raised.state, raised.repair) == ("open", "")
    actions.concede(cast.clara, nonconformance=raised, reason="Inside a void", password=PASSWORD)
    raised.refresh_from_db()
    assert raised.state == "closed"
    with pytest.raises(Conflict, match="closed it already"):
        say(cast.quinn, raised, "decision", choice="rework")


@pytest.mark.parametrize(
    ("sent", "field", "words"),
    [
        ({"kind": "grade", "text": "x"}, "choice", "minor, major, critical"),
        ({"kind": "grade", "text": "x", "choice": "repair"}, "choice", "minor, major, critical"),
        ({"kind": "cause", "text": " "}, "text", "Say it in words"),
        ({"kind": "cause", "text": "x", "choice": "minor"}, "choice", "leave it out"),
        ({"kind": "action", "text": "x", "done_by": "Foreman"}, "due", "by which day"),
        ({"kind": "action", "text": "x", "done_by": "Foreman", "due": date(2020, 1, 1)}, "due", "on that day or later"),
        ({"kind": "wish", "text": "x"}, "kind", "give one of grade, against"),
    ],
)
def test_what_is_missing_or_out_of_place_is_named(cast: Cast, sent: dict[str, Any], field: str, words: str) -> None:
    with pytest.raises(Refused, match=words) as refused:
        actions.say(cast.quinn, nonconformance=runs(cast), **sent)
    assert [fault.field for fault in refused.value.faults] == [field]
    assert not Disposition.objects.exists()


def test_the_api_stores_once_and_names_what_is_wrong(cast: Cast) -> None:
    raised, client = runs(cast), as_person(cast.quinn)
    address = f"/api/nonconformances/{raised.pk}/entries/"
    sent = {"id": str(new_id()), "kind": "action", "text": "Gauge the tips", "done_by": "Foreman", "due": "2099-01-01"}
    assert [client.post(address, sent, "application/json").status_code for _ in range(2)] == [201, 200]
    assert client.post(address, sent | {"text": "Other"}, "application/json").status_code == 409
    assert client.post(address, sent | {"id": str(new_id()), "due": None}, "application/json").status_code == 422
    foreign = runs(cast, cast.site.other_area)
    done = {
        "id": str(new_id()),
        "kind": "completed",
        "about": sent["id"],
        "text": "Done",
        "done_at": "2026-03-05T09:00Z",
    }
    elsewhere = f"/api/nonconformances/{foreign.pk}/entries/"
    assert client.post(elsewhere, done, "application/json").status_code == 404
    answer = client.post(address, done, "application/json")
    assert (answer.status_code, answer.json()["about"]) == (201, sent["id"])
    with pytest.raises(Refused, match="still to be done"):
        say(cast.quinn, raised, "completed", about=Disposition.objects.get(pk=sent["id"]), done_at=MORNING)


def test_the_list_tells_class_and_age_without_a_query_a_row(cast: Cast) -> None:
    client, counts = as_person(cast.quinn), []
    for many in (3, 27):
        for _ in range(many):
            say(cast.ines, runs(cast), "grade", choice="minor")
        with CaptureQueriesContext(connection) as asked:
            client.get(reverse("nonconformance_list"))
        counts.append(len(asked))
    assert counts[0] == counts[1]
    graded = Nonconformance.objects.get(number=1)
    twice = say(cast.ines, graded, "grade", choice="critical")
    with time_machine.travel(graded.raised_at + timedelta(days=7)):
        page = text_of(as_person(cast.quinn).get(reverse("nonconformance_list")))
    assert ("Critical" in page, "7 days" in page) == (True, True)
    actions.take_back(cast.ines, disposition=twice, reason="not so bad")
    assert "Critical" not in text_of(client.get(reverse("nonconformance_list")))


def test_who_may_say_what(cast: Cast) -> None:
    raised = runs(cast)
    with pytest.raises(NotAllowed):
        say(cast.ines, raised, "decision", choice="rework")
    with pytest.raises(NotAllowed):
        say(cast.clara, raised, "comment")
    page = text_of(as_person(cast.clara).get(reverse("nonconformance", args=[raised.pk])))
    assert "Say more about it" not in page


def test_the_page_asks_no_more_of_the_database_with_thirty_entries_than_with_three(cast: Cast) -> None:
    raised, client, counts = runs(cast), as_person(cast.quinn), []
    for many in (3, 27):
        for number in range(many):
            action = say(cast.quinn, raised, "action", f"Step {number}", done_by="Foreman", due=date(2099, 1, 1))
            say(cast.quinn, raised, "completed", about=action, done_at=MORNING)
        say(cast.quinn, raised, "action", "Left", done_by="Foreman", due=date(2099, 1, 1))
        with CaptureQueriesContext(
            connection,
        ) as asked:
            client.get(reverse("nonconformance", args=[raised.pk]))
        counts.append(len(asked))
    assert counts[0] == counts[1]
