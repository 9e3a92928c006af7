"""What closes a nonconformance of a measurement, and opens it again: rework, correction, concession, in any order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
import time_machine
from django.db import DatabaseError, transaction
from django.http import Http404
from django.test import Client
from django.urls import reverse

from accounts.models import JournalEntry, Letter
from inspection.fieldwork.models import ThicknessRecord
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.nonconformance import actions as nonconformance
from inspection.nonconformance.models import Disposition, Nonconformance
from inspection.nonconformance.queries import missing_of
from tests.cast import PASSWORD, Cast
from tests.holdpoints.scene import a_point, looked_at, reworked
from tests.past_triggers import rewrite
from tests.standing.scene import clock, fall, measure, told, verify


@pytest.fixture(autouse=True)
def _days_later() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 3, 9, 12, 0, tzinfo=UTC), tick=False):
        yield


@pytest.fixture
def checked(cast: Cast) -> Cast:
    """The gauge was checked before and after the day's work."""
    verify(cast, "06:40")
    verify(cast, "17:30")
    return cast


def failed(cast: Cast, at: str = "09:00", **more: Any) -> ThicknessRecord:
    return measure(cast, at, at[:3] + "40", verdict="fail", **more)


def passed(cast: Cast, at: str = "14:00", **more: Any) -> ThicknessRecord:
    return measure(cast, at, at[:3] + "40", **more)


def the_one() -> Nonconformance:
    return Nonconformance.objects.select_related("project").get()


def missing(raised: Nonconformance | None = None) -> str:
    raised = raised or the_one()
    return " ".join(missing_of([raised])[raised.pk])


def test_what_several_parts_of_an_area_do_not_keep_is_said_once(checked: Cast) -> None:
    record = failed(checked, tell=False)
    said = ["Every spot mean is enough.", "The area mean is enough."] * 2
    rows = ThicknessRecord.objects.filter(pk=record.pk)
    rewrite(rows, result={"checks": [{"sentence": each, "passed": False} for each in said]})
    told(records=[record.pk])
    assert the_one().description.splitlines() == ["Not kept:", *said[:2]]


def test_measuring_again_with_nothing_done_closes_nothing(checked: Cast) -> None:
    record = failed(checked)
    raised = the_one()
    assert (raised.number, raised.record, raised.state) == (1, record, "open")
    assert raised.title == "Primer on A1 does not meet SSPC-PA 2, level 3"
    passed(checked)
    assert the_one().state == "open"
    assert (
        missing()
        == "No rework is recorded that was done after the failing measurement, which ended at 2026-03-04 09:40."
    )
    with pytest.raises(Refused, match="once a rework is recorded and a new measurement passes and is sound"):
        nonconformance.close_nonconformance(checked.quinn, nonconformance=raised)


def test_a_recorded_rework_and_a_sound_pass_begun_after_it_close_it(checked: Cast) -> None:
    failed(checked)
    measure(checked, "10:00", "10:10", verdict="incomplete")
    failed(checked, "10:20")
    assert Nonconformance.objects.count() == 1
    reworked(checked, the_one(), "13:00")
    passed(checked, "12:00")
    assert the_one().state == "open"
    assert missing() == (
        "Nothing has been measured since the rework, which was done at 2026-03-04 13:00; what was measured at "
        "2026-03-04 12:00 came before it."
    )
    closing = passed(checked, "14:00")
    assert (the_one().state, the_one().closing_record, the_one().repair) == ("closed", closing, "Second full coat")
    assert JournalEntry.objects.filter(verb="nonconformance.closed").count() == 1


def test_a_pass_that_is_not_sound_closes_nothing_until_its_gauge_is_checked(cast: Cast) -> None:
    verify(cast, "06:40")
    failed(cast)
    reworked(cast, the_one(), "13:00")
    passed(cast)
    assert missing() == "The measurement of 2026-03-04 14:00, after the rework, is in question."
    verify(cast, "17:30")
    assert the_one().state == "closed"
    # A fall reported later puts the pass in question, and with it what it closed.
    fall(cast, "14:20")
    assert (the_one().state, the_one().closing_record) == ("open", None)
    assert JournalEntry.objects.get(verb="nonconformance.reopened").reason == "What closed it no longer holds."


def test_the_order_in_which_the_facts_arrive_makes_no_difference(checked: Cast) -> None:
    """Failures, a rework, a pass before or after it: the area ends open or closed by the facts alone."""
    base = failed(checked, "07:30")
    facts: dict[str, Callable[[Cast], Any]] = {
        "failure": lambda cast: failed(cast, "09:00"),
        "rework": lambda cast: reworked(cast, Nonconformance.objects.get(record=base), "13:00"),
        "too few": lambda cast: measure(cast, "11:00", "11:10", verdict="incomplete"),
        "closed": lambda cast: passed(cast, "14:00"),
        "open": lambda cast: passed(cast, "12:00"),
    }
    ends: list[tuple[str, set[str]]] = []

    def arrive(waiting: frozenset[str], decided: str) -> None:
        """Every order of what waits, each beginning played once; of the two passes one arrives."""
        if not waiting:
            ends.append((decided, set(Nonconformance.objects.values_list("state", flat=True))))
        for name in sorted(waiting):
            undo = transaction.savepoint()
            facts[name](checked)
            passes = {"open", "closed"} if name in {"open", "closed"} else set()
            arrive(waiting - {name} - passes, name if passes else decided)
            transaction.savepoint_rollback(undo)

    arrive(frozenset(facts), "")
    assert Counter(decided for decided, _ in ends) == {"closed": 24, "open": 24}
    assert [(decided, states) for decided, states in ends if states != {decided}] == []


def test_a_failure_that_arrives_late_is_not_hidden_by_a_newer_pass(checked: Cast) -> None:
    passed(checked, "14:00")
    failed(checked, "09:00")
    assert the_one().state == "open"


def test_a_failure_after_the_pass_is_a_new_one(checked: Cast) -> None:
    failed(checked)
    reworked(checked, the_one(), "11:00")
    passed(checked, "12:00")
    failed(checked, "15:00")
    assert list(Nonconformance.objects.order_by("number").values_list("state", flat=True)) == ["closed", "open"]
    # One failure and its rework say nothing of another area or coat.
    failed(checked, area=checked.site.other_area)
    assert Nonconformance.objects.count() == 3


def test_a_correction_of_the_failing_record_closes_it_and_a_worse_one_opens_it_again(checked: Cast) -> None:
    record = failed(checked)
    version = measure(checked, "09:00", "09:40", replaces=record)
    assert (the_one().state, the_one().closing_record) == ("closed", version)
    assert the_one().repair == "The measurement that raised it was corrected: wrong area"
    measure(checked, "09:00", "09:40", replaces=version, verdict="fail")
    assert (the_one().state, Nonconformance.objects.count()) == ("open", 1)


def test_a_correction_into_too_few_readings_shows_nothing(checked: Cast) -> None:
    record = failed(checked)
    measure(checked, "09:00", "09:40", replaces=record, verdict="incomplete")
    assert the_one().state == "open"
    assert missing() == "The measurement was corrected and is not complete; measure the area until it passes."
    closing = passed(checked, "14:00")
    assert (the_one().state, the_one().closing_record) == ("closed", closing)


def test_a_correction_to_another_area_closes_it_here(checked: Cast) -> None:
    record = failed(checked)
    measure(checked, "09:00", "09:40", replaces=record, area=checked.site.other_area)
    assert the_one().state == "closed"
    assert the_one().repair == "The measurement that raised it was corrected to another area or coat."


def test_a_correction_of_the_closing_record_that_fails_opens_it_again(checked: Cast) -> None:
    failed(checked)
    reworked(checked, the_one(), "11:00")
    closing = passed(checked, "12:00")
    measure(checked, "12:00", "12:40", replaces=closing, verdict="fail")
    assert (the_one().state, Nonconformance.objects.count()) == ("open", 1)


def test_a_rework_recorded_by_mistake_is_taken_back_and_what_it_closed_is_open(checked: Cast) -> None:
    failed(checked)
    rework = reworked(checked, the_one(), "11:00")
    passed(checked, "12:00")
    with pytest.raises(Refused, match="Say why it is taken back"):
        nonconformance.take_back(checked.ines, disposition=rework, reason=" ")
    with pytest.raises(NotAllowed):
        nonconformance.take_back(checked.clara, disposition=rework, reason="x")
    with pytest.raises(Http404):
        nonconformance.take_back(checked.igor, disposition=rework, reason="x")
    nonconformance.take_back(checked.ines, disposition=rework, reason="that was area A2")
    assert (the_one().state, the_one().repair) == ("open", "")
    assert JournalEntry.objects.get(verb="nonconformance.taken_back").reason == "that was area A2"
    with pytest.raises(Conflict, match="taken back already"):
        nonconformance.take_back(checked.ines, disposition=rework, reason="again")
    reworked(checked, the_one(), "11:30")
    assert the_one().state == "closed"


def test_a_rework_is_after_the_failure_and_the_same_again_changes_nothing(checked: Cast) -> None:
    failed(checked)
    with pytest.raises(Refused, match="ended at 2026-03-04 09:40; rework of it was done after that"):
        reworked(checked, the_one(), "09:20")
    said = {"nonconformance": the_one(), "what": "Recoated", "done_by": "Crew 2"}
    with pytest.raises(Refused, match="lies in the future"):
        nonconformance.record_rework(checked.ines, **said, done_at=datetime(2026, 4, 1, tzinfo=UTC))
    for who in (checked.clara, checked.audrey):
        with pytest.raises(NotAllowed):
            nonconformance.record_rework(who, **said, done_at=clock("11:00"))
    first, again = (nonconformance.record_rework(checked.ines, **said, done_at=clock("11:00")) for _ in range(2))
    assert first == again
    assert JournalEntry.objects.filter(verb="nonconformance.reworked").count() == 1
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        Disposition.objects.update(text="no")


def conceded(cast: Cast, by: Any) -> Disposition:
    return nonconformance.concede(by, nonconformance=the_one(), reason="Thin but under the finish", password=PASSWORD)


def test_a_concession_closes_it_tells_those_concerned_and_covers_only_what_was_known(checked: Cast) -> None:
    failed(checked)
    for who in (checked.ines, checked.audrey, checked.quinn):
        with pytest.raises(NotAllowed, match="client's people on this project may accept"):
            conceded(checked, who)
    with pytest.raises(Http404):
        conceded(checked, checked.carl)
    with pytest.raises(Refused, match="not your password"):
        nonconformance.concede(checked.clara, nonconformance=the_one(), reason="x", password="guess")
    with pytest.raises(Refused, match="Say why it is accepted"):
        nonconformance.concede(checked.clara, nonconformance=the_one(), reason=" ", password=PASSWORD)
    given = conceded(checked, checked.clara)
    assert (the_one().state, the_one().repair) == ("closed", "Thin but under the finish")
    letter = Letter.objects.get()
    assert (letter.person, letter.kind) == (checked.quinn, "concession")
    assert "Clara Client, Owner One: Thin but under the finish" in letter.body
    passed(checked)
    assert Nonconformance.objects.filter(state="open").count() == 0
    failed(checked, "08:00")  # measured before, received after: nobody was shown it
    assert list(Nonconformance.objects.order_by("number").values_list("state", flat=True)) == ["closed", "open"]
    with pytest.raises(NotAllowed):
        nonconformance.take_back(checked.ines, disposition=given, reason="x")
    nonconformance.take_back(checked.clara, disposition=given, reason="given for the wrong deck")
    assert Letter.objects.filter(subject__contains="was taken back", person=checked.quinn).count() == 1


def test_a_concession_taken_back_opens_what_it_closed(checked: Cast) -> None:
    failed(checked)
    given = conceded(checked, checked.clara)
    assert Letter.objects.get().person == checked.quinn
    nonconformance.take_back(checked.clara, disposition=given, reason="we never agreed to it")
    assert the_one().state == "open"


def test_a_correction_into_too_few_readings_can_be_accepted_as_it_is(checked: Cast) -> None:
    record = failed(checked)
    measure(checked, "09:00", "09:40", replaces=record, verdict="incomplete")
    conceded(checked, checked.clara)
    assert (the_one().state, the_one().closing_record) == ("closed", None)


def test_one_that_a_manager_closed_by_hand_is_opened_again_with_a_reason(cast: Cast) -> None:
    raised = nonconformance.raise_nonconformance(cast.ines, area=cast.site.area, coat=cast.site.coats[0], title="Dust")
    reworked(cast, raised, "11:00", "Sanded")
    looked_at(cast, raised)
    closure = nonconformance.close_nonconformance(cast.quinn, nonconformance=raised)
    assert the_one().state == "closed"
    with pytest.raises(NotAllowed):
        nonconformance.take_back(cast.ines, disposition=closure, reason="x")
    nonconformance.take_back(cast.quinn, disposition=closure, reason="still dusty at the hatch")
    assert (the_one().state, the_one().repair) == ("open", "Sanded")


def test_sanding_dust_away_answers_no_thin_film(checked: Cast) -> None:
    dusty = nonconformance.raise_nonconformance(
        checked.ines, area=checked.site.area, coat=checked.site.coats[0], title="Dust in the film"
    )
    failed(checked)
    reworked(checked, dusty, "11:00", "Sanded")
    passed(checked)
    assert Nonconformance.objects.exclude(record=None).get().state == "open"


def test_the_pages_record_a_rework_say_what_is_missing_and_take_it_back(checked: Cast, client: Client) -> None:
    failed(checked)
    passed(checked, "10:30")
    point, raised = a_point(checked), the_one()
    address = reverse("nonconformance", args=[raised.pk])
    client.force_login(checked.ines)
    assert "No rework is recorded that was done after" in client.get(address).content.decode()
    rework = reverse("nonconformance_rework", args=[raised.pk])
    answer = client.post(rework, {"what": "Second coat", "done_by": "", "done_at": "2026-03-04T09:10"})
    assert answer.status_code == 422
    assert "Second coat</textarea>" in answer.content.decode()
    sent = {"what": "Second coat", "done_by": "Crew 2", "done_at": "2026-03-04T11:00"}
    assert client.post(rework, sent).status_code == 302
    page = client.get(address).content.decode()
    assert "what was measured at 2026-03-04 10:30 came before it" in page
    assert "Crew 2" in page
    client.force_login(checked.quinn)
    assert "Nothing has been measured since the rework" in client.get(reverse("decisions")).content.decode()
    detail = client.get(reverse("api_nonconformance", args=[raised.pk])).json()
    assert [entry["kind"] for entry in detail["dispositions"]] == ["rework"]
    assert "Nothing has been measured since the rework" in detail["missing"][0]
    # The point waits for it too.
    assert "NC-001" in " ".join(client.get(reverse("api_point", args=[point.pk])).json()["evidence"]["why_not"])
    back = reverse("disposition_take_back", args=[detail["dispositions"][0]["id"]])
    assert client.post(back, {"reason": ""}).status_code == 422
    assert client.post(back, {"reason": "another area"}).status_code == 302
    assert "Taken back" in client.get(address).content.decode()
    client.force_login(checked.clara)
    concede = reverse("nonconformance_concede", args=[raised.pk])
    assert client.post(concede, {"reason": "Thin", "password": "guess"}).status_code == 422
    assert client.post(concede, {"reason": "Thin", "password": PASSWORD}).status_code == 302
    assert the_one().state == "closed"
    client.force_login(checked.carl)
    for path in (address, back):
        assert client.get(path).status_code == 404
