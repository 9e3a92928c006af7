"""Points of a plan's lines: applied, decided by each party, waived, attended, passed over; the matrix."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
import time_machine
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import JournalEntry, Letter, Person
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.holdpoints import actions
from inspection.holdpoints.actions.applying import follow_revision, touched_by_revision
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.models import HoldPoint
from inspection.holdpoints.queries import to_decide
from inspection.nonconformance.models import Nonconformance
from inspection.projects.models import InspectionArea
from reports.verify.decisions import differences
from tests.cast import PASSWORD, Cast
from tests.holdpoints.planned import a_line, an_owner, plan_of
from tests.holdpoints.scene import a_point, signed, sound_record
from tests.standing.scene import clock, fall, measure, verify

Lies = HoldPoint.Lies


@pytest.fixture(autouse=True)
def _days_later() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 3, 9, 12, 0, tzinfo=UTC), tick=False):
        yield


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def text_of(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def applied(cast: Cast, *areas: InspectionArea) -> list[HoldPoint]:
    actions.apply_plan(cast.quinn, project=cast.site.project, areas=areas or [cast.site.area])
    return list(HoldPoint.objects.exclude(line=None).order_by("line__order_key", "area__code"))


def lies(point: HoldPoint) -> Lies:
    return Lies(HoldPoint.objects.get(pk=point.pk).lies)


def test_each_line_becomes_a_point_at_each_area_and_applying_again_adds_nothing(cast: Cast) -> None:
    plan = plan_of(cast)
    a_line(plan, "1", coat=None, needs=("profile",))
    a_line(plan, "2", coat=1)
    a_line(plan, "3", coat=9)
    a_line(plan, "4", scope="delivery")
    areas = [cast.site.area, cast.site.other_area]
    made = actions.apply_plan(cast.quinn, project=cast.site.project, areas=areas)
    assert (made.planned, made.areas) == (4, 2)
    assert made.without_coat == ("3 Line 3: System 1 has no coat 9",)
    first, second = HoldPoint.objects.filter(area=cast.site.area).order_by("line__order_key")
    assert (first.coat, first.measured, first.requirements.get().kind) == (None, False, "profile")
    assert (second.coat, second.measured, second.requirements.count()) == (cast.site.coats[0], True, 0)
    assert actions.apply_plan(cast.quinn, project=cast.site.project, areas=areas).planned == 0
    page = text_of(as_person(cast.quinn).get(reverse("points_matrix", args=[cast.site.project.pk])))
    assert page.count("Not ready</a>") == 4
    assert "bare steel" in text_of(as_person(cast.clara).get(reverse("board")))


def test_what_cannot_be_applied_is_said_and_nothing_is_planned(cast: Cast) -> None:
    project, area = cast.site.project, cast.site.area
    with pytest.raises(Refused, match="no plan in force"):
        actions.apply_plan(cast.quinn, project=project, areas=[area])
    a_line(plan_of(cast))
    with pytest.raises(Refused, match="Choose 1 to 2,000 areas"):
        actions.apply_plan(cast.quinn, project=project, areas=[])
    with pytest.raises(Refused, match="of another project"):
        actions.apply_plan(cast.quinn, project=project, areas=[cast.foreign.area])
    with pytest.raises(NotAllowed):
        actions.apply_plan(cast.ines, project=project, areas=[area])
    assert not HoldPoint.objects.exists()


def test_it_is_released_once_each_party_that_holds_it_has_released_or_waived(cast: Cast) -> None:
    olga = an_owner(cast)
    a_line(plan_of(cast), letters={"client": "hold", "owner": "hold", "contractor": "perform"})
    (point,) = applied(cast)
    assert lies(point) == Lies.UNREADY
    sound_record(cast)
    assert lies(point) == Lies.READY
    first = actions.release(cast.clara, **signed(point))
    assert (first.party and first.party.kind, first.left, lies(point)) == ("client", "waiting", Lies.READY)
    point.refresh_from_db()
    with pytest.raises(Conflict, match="has released this point already"):
        actions.release(cast.clara, **signed(point))
    with pytest.raises(NotAllowed):
        actions.release(cast.quinn, **signed(point))
    assert "Signed by Clara" not in text_of(as_person(olga).get(reverse("point", args=[point.pk])))
    last = actions.waive(olga, **signed(point, reason="Seen by the client"))
    assert (last.left, lies(point)) == ("released", Lies.RELEASED)
    call_command("standing", "--check")


def test_each_party_that_released_is_told_when_the_ground_is_lost(cast: Cast) -> None:
    olga = an_owner(cast)
    a_line(plan_of(cast), letters={"client": "hold", "owner": "hold"})
    (point,) = applied(cast)
    sound_record(cast)
    for person in (cast.clara, olga):
        point.refresh_from_db()
        actions.release(person, **signed(point))
    fall(cast, "08:10")
    assert lies(point) == Lies.DOUBT
    told = Letter.objects.filter(kind="released-in-doubt").values_list("person__name", flat=True)
    assert sorted(told) == ["Clara Client", "Olga Owner"]


def test_one_party_that_refuses_keeps_it_back_and_presented_again_all_decide_anew(cast: Cast) -> None:
    olga = an_owner(cast)
    a_line(plan_of(cast), letters={"client": "hold", "owner": "hold"})
    (point,) = applied(cast)
    sound_record(cast)
    actions.release(cast.clara, **signed(point))
    point.refresh_from_db()
    actions.refuse(olga, **signed(point, reason="Sags"))
    assert lies(point) == Lies.REFUSED
    point.refresh_from_db()
    with pytest.raises(Conflict, match="something to take back"):
        actions.take_refusal_back(cast.clara, point=point, password=PASSWORD, reason="Not mine")
    actions.take_refusal_back(olga, point=point, password=PASSWORD, reason="The wrong area")
    assert lies(point) == Lies.READY
    # It waits for her again; what the client said stands.
    project = cast.site.project
    assert [len(to_decide(person, project)) for person in (cast.clara, olga)] == [0, 1]
    point.refresh_from_db()
    actions.refuse(olga, **signed(point, reason="Sags all the same"))
    point.refresh_from_db()
    actions.present_again(cast.ines, point=point, note="Sanded")
    point.refresh_from_db()
    # The release that the client gave was on what is refused now.
    assert point.state == "waiting"
    assert lies(point) == Lies.UNREADY


def test_a_waiver_is_signed_with_its_reason_and_taken_back_it_waits_again(cast: Cast) -> None:
    point = a_point(cast)
    client = as_person(cast.clara)
    sent = {"evidence": evidence_of(point).digest, "password": PASSWORD, "reason": ""}
    assert client.post(reverse("point_waive", args=[point.pk]), sent).status_code == 422
    sent["reason"] = "The tank is scrapped"
    assert client.post(reverse("point_waive", args=[point.pk]), {**sent, "password": "wrong"}).status_code == 422
    assert client.post(reverse("point_waive", args=[point.pk]), sent).status_code == 302
    assert lies(point) == Lies.WAIVED
    assert "The tank is scrapped" in text_of(client.get(reverse("point", args=[point.pk])))
    assert Letter.objects.filter(kind="decision", person=cast.clara).count() == 1
    back = {"password": PASSWORD, "reason": "It is not"}
    assert client.post(reverse("point_unrefuse", args=[point.pk]), back).status_code == 302
    assert lies(point) == Lies.UNREADY
    call_command("standing", "--check")


def test_attendance_and_absence_are_noted_and_release_nothing(cast: Cast) -> None:
    a_line(plan_of(cast), letters={"client": "witness", "contractor": "perform"})
    (point,) = applied(cast)
    assert point.kind == "witness"
    client = as_person(cast.ines)
    address = reverse("point_attend", args=[point.pk])
    party = cast.site.project.parties.get(kind="client")
    assert client.post(address, {"party": party.pk, "attended": "no", "note": "Waited an hour"}).status_code == 302
    assert "Did not come" in text_of(client.get(reverse("point", args=[point.pk])))
    assert lies(point) == Lies.UNREADY
    with pytest.raises(NotAllowed):
        actions.note_attendance(cast.clara, point=point, attended=False)
    own = new_id()
    noted = actions.note_attendance(cast.clara, point=point, attended=True, id=own)
    assert noted.pk == own
    assert actions.note_attendance(cast.clara, point=point, attended=True, id=own) == noted, (
        "sent again it is there once"
    )
    with pytest.raises(Conflict):
        actions.note_attendance(cast.ines, point=point, attended=True, party=party, id=own)
    assert point.decisions.count() == 2
    sound_record(cast)
    page = text_of(client.get(reverse("points_matrix", args=[cast.site.project.pk])))
    assert "Passed</a>" in page
    assert "Passed</span>" in text_of(client.get(reverse("board"), {"place": "passed"}))
    shown = text_of(client.get(reverse("point", args=[point.pk])))
    assert ("a witness point waits for nobody’s word" in shown, "Ready to release" in shown) == (True, False)
    with pytest.raises(NotAllowed):
        actions.release(cast.clara, **signed(point))
    HoldPoint.objects.filter(pk=point.pk).update(state=HoldPoint.State.CLOSED)
    assert actions.note_attendance(cast.clara, point=point, attended=True, id=own) == noted, "its answer was lost"
    with pytest.raises(Conflict, match="not applicable"):
        actions.note_attendance(cast.clara, point=point, attended=True, id=new_id())


def test_many_are_refused_or_waived_under_one_signature_and_a_reason_is_asked(cast: Cast) -> None:
    a_line(plan_of(cast))
    points = applied(cast, cast.site.area, cast.site.other_area)
    address = reverse("points_release", args=[cast.site.project.pk])
    shown = [f"{point.pk} {evidence_of(point).digest}" for point in points]
    sent = {"outcome": "waived", "every": "1", "shown": shown, "password": PASSWORD}
    client = as_person(cast.clara)
    assert "Sign and waive" in text_of(client.get(address, {"outcome": "waived"}))
    assert client.post(address, sent).status_code == 422
    assert client.post(address, {**sent, "reason": "Agreed by letter"}).status_code == 302
    assert {lies(point) for point in points} == {Lies.WAIVED}
    (together,) = {(row.after or {})["together"] for row in JournalEntry.objects.filter(verb="holdpoint.waived")}
    (letter,) = Letter.objects.filter(kind="decision")
    assert together in letter.body
    # A program does the same.
    for point in points:
        actions.take_refusal_back(cast.clara, point=point, password=PASSWORD, reason="Not agreed")
    sent = {
        "outcome": "refused", "password": PASSWORD, "reason": "Dust",
        "points": [{"point": str(point.pk), "evidence_digest": evidence_of(point).digest} for point in points],
    }  # fmt: skip
    answer = client.post(reverse("api_points_decide", args=[cast.site.project.pk]), sent, "application/json")
    assert (answer.status_code, [row["outcome"] for row in answer.json()]) == (201, ["refused", "refused"])


def test_work_that_goes_on_over_a_hold_is_kept_shown_and_drafts_a_nonconformance(cast: Cast) -> None:
    point = a_point(cast)
    with time_machine.travel(clock("06:00"), tick=False):
        held = HoldPoint.objects.create(
            project=cast.site.project, area=cast.site.other_area, coat=cast.site.coats[0], title="Primer accepted"
        )
    verify(cast, "06:40")
    record = measure(cast, "09:00", "09:40", area=cast.site.other_area, coat=1)
    held.refresh_from_db()
    assert held.passed_over_at == record.taken_at
    assert lies(held) == Lies.PASSED_OVER
    drafted = held.passed_draft
    assert drafted is not None
    assert (drafted.state, "Work went on over" in drafted.title) == ("draft", True)
    client = as_person(cast.clara)
    assert "Passed over" in text_of(client.get(reverse("board")))
    assert "Work went on over this point" in text_of(client.get(reverse("point", args=[held.pk])))
    # What was planned after the work had gone on was not passed over.
    assert HoldPoint.objects.get(pk=point.pk).passed_over_at is None
    manager = as_person(cast.quinn)
    assert "It was drawn up by the platform" in text_of(manager.get(reverse("nonconformance", args=[drafted.pk])))
    assert manager.post(reverse("nonconformance_drop", args=[drafted.pk]), {"reason": ""}).status_code == 422
    issue = reverse("nonconformance_issue", args=[drafted.pk])
    assert manager.post(issue, {"password": PASSWORD}).status_code == 302
    assert Nonconformance.objects.get().state == "open"
    assert manager.post(issue, {"password": PASSWORD}).status_code == 422
    call_command("standing", "--check")
    assert list(differences()) == []


def test_work_that_goes_on_when_one_of_two_parties_has_released_goes_on_over_the_hold(cast: Cast) -> None:
    an_owner(cast)
    a_line(plan_of(cast), letters={"client": "hold", "owner": "hold"}, needs=("dust",), coat=None)
    with time_machine.travel(clock("06:00"), tick=False):
        actions.apply_plan(cast.quinn, project=cast.site.project, areas=[cast.site.area])
    point = HoldPoint.objects.get()
    with time_machine.travel(clock("07:00"), tick=False):
        actions.waive(cast.clara, **signed(point, reason="The tank is scrapped"))
    verify(cast, "06:40")
    record = measure(cast, "09:00", "09:40")
    point.refresh_from_db()
    assert point.passed_over_at == record.taken_at


def test_a_correction_that_takes_the_later_coat_elsewhere_takes_the_passing_back(cast: Cast) -> None:
    with time_machine.travel(clock("06:00"), tick=False):
        held = HoldPoint.objects.create(
            project=cast.site.project, area=cast.site.area, coat=cast.site.coats[0], title="Primer accepted"
        )
    verify(cast, "06:40")
    wrong = measure(cast, "09:00", "09:40", coat=1)
    held.refresh_from_db()
    assert held.passed_over_at
    measure(cast, "09:00", "09:40", replaces=wrong)
    held.refresh_from_db()
    assert (held.passed_over_at, held.passed_draft) == (None, None)
    assert Nonconformance.objects.get().state == "closed"
    call_command("standing", "--check")


def test_a_revision_moves_what_nobody_decided_and_leaves_what_was(cast: Cast) -> None:
    former = plan_of(cast)
    old, gone = a_line(former, "1"), a_line(former, "2", coat=2)
    decided, undecided, *_ = applied(cast, cast.site.area, cast.site.other_area)
    actions.waive(cast.clara, **signed(decided, reason="Small"))
    revision = plan_of(cast, 2, state="draft")
    new = a_line(revision, "1.1", needs=("thickness", "profile"), carries_on=old, letters={"client": "witness"})
    a_line(revision, "3", coat=3)
    told = touched_by_revision(revision)
    assert [words.split()[0] for words in told] == ["1", "1", "2", "2"]
    former.state, revision.state = "superseded", "in_force"
    former.save()
    revision.save()
    follow_revision(cast.quinn, revision, former, "Revision 2")
    decided.refresh_from_db()
    undecided.refresh_from_db()
    assert (decided.line, undecided.line, undecided.kind) == (old, new, "witness")
    assert undecided.requirements.get().kind == "profile"
    assert not HoldPoint.objects.filter(line=gone).exists()
    assert HoldPoint.objects.filter(line__number="3").count() == 2
    # What was decided stands in the column of the line that carries its own on.
    page = text_of(as_person(cast.quinn).get(reverse("points_matrix", args=[cast.site.project.pk])))
    assert (page.count("Waived</a>"), page.count("Not ready</a>")) == (1, 3)


def test_the_matrix_costs_the_same_for_many_areas_and_narrows(cast: Cast) -> None:
    plan = plan_of(cast)
    lines = [a_line(plan, str(number), coat=number) for number in (1, 2, 3)]
    site, client = cast.site, as_person(cast.clara)
    address = reverse("points_matrix", args=[site.project.pk])

    def cost(**narrow: str) -> int:
        with CaptureQueriesContext(connection) as caught:
            assert client.get(address, narrow).status_code == 200
        return len(caught)

    applied(cast)
    few = cost()
    areas = InspectionArea.objects.bulk_create(
        InspectionArea(structure=site.structure, system=site.system, code=f"B{n:04}", name="Panel", area_m2=9)
        for n in range(60)
    )
    made = applied(cast, *areas)
    assert len(made) == 3 * 61
    assert cost() == few <= 12
    actions.close_point(cast.quinn, point=made[0], reason="No weld here")
    page = text_of(client.get(address, {"state": "closed"}))
    assert ("No weld here" in page, "B0001" in page) == (True, False)
    assert lines[2].title in page
    assert lines[2].title not in text_of(client.get(address, {"activity": "dust"}))
    told = client.get(reverse("api_points_matrix", args=[site.project.pk]), {"state": "closed"}).json()
    assert [cell["state"] for cell in told["results"][0]["cells"]].count("Not applicable") == 1
    stranger = as_person(cast.carl)
    assert stranger.get(address).status_code == 404
