"""Points without records are presented; several are changed in one go; a line asks for every kind of record."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
import time_machine
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from accounts.models import JournalEntry, Person, Tiding
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.holdpoints import actions
from inspection.holdpoints.actions.applying import follow_revision
from inspection.holdpoints.awaited import awaited
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.models import HoldPoint, PointLetter
from inspection.plan.models import PlanLine
from inspection.projects.models import Coat, Project
from tests.cast import Cast
from tests.holdpoints.planned import a_line, an_owner, plan_of
from tests.holdpoints.scene import climate_at, measured_on, signed, sound_record
from tests.holdpoints.test_party_letters import a_painter
from tests.projects.test_division import divide_twice, parts

Lies = HoldPoint.Lies


@pytest.fixture(autouse=True)
def _days_later() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 3, 9, 12, 0, tzinfo=UTC), tick=False):
        yield


def of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def applied(cast: Cast, *lines: Any) -> list[HoldPoint]:
    actions.apply_plan(cast.quinn, project=cast.site.project, areas=[cast.site.area, cast.site.other_area])
    return list(HoldPoint.objects.order_by("area__code", "line__order_key"))


def lies(point: HoldPoint) -> Lies:
    return Lies(HoldPoint.objects.get(pk=point.pk).lies)


def project(cast: Cast) -> Project:
    return cast.site.project


# --- points that require no record ------------------------------------------------------------------------------------
def test_a_point_without_records_is_ready_once_it_is_presented_and_not_when_that_is_taken_back(cast: Cast) -> None:
    painter = a_painter(cast, cast.site.area)
    a_line(plan_of(cast), needs=())
    point, other = applied(cast)
    assert (lies(point), Tiding.objects.count()) == (Lies.UNREADY, 0)
    page = of(cast.clara).get(reverse("point", args=[point.pk])).content.decode()
    assert "It becomes ready when" in of(cast.quinn).get(reverse("point", args=[point.pk])).content.decode()
    assert "Present the point" not in page
    sent = of(painter).post(reverse("point_presented", args=[point.pk]), {"reason": "Washed down"})
    assert sent.status_code == 302
    assert (lies(point), lies(other)) == (Lies.READY, Lies.UNREADY)
    assert list(awaited(cast.clara).filter(lies=Lies.READY)) == [point]
    told = Tiding.objects.get(kind="point-ready", person=cast.clara).body
    assert told.startswith("It requires no record, and is presented on site. Its page says what it rests on")
    # Another's area is not the painter's to present.
    assert of(painter).post(reverse("point_presented", args=[other.pk])).status_code == 404
    with pytest.raises(NotAllowed):
        actions.present_points(cast.clara, project=project(cast), points=[other.pk])
    with pytest.raises(Conflict, match="presented already"):
        actions.present_points(cast.ines, project=project(cast), points=[point.pk])
    assert of(cast.ines).post(reverse("point_presented", args=[point.pk]), {}).status_code == 422
    of(cast.ines).post(reverse("point_presented", args=[point.pk]), {"reason": "Still wet"})
    assert lies(point) == Lies.UNREADY
    assert [row.outcome for row in point.decisions.all()] == ["due", "not_due"]
    assert JournalEntry.objects.filter(verb__in=("holdpoint.due", "holdpoint.not_due")).count() == 2
    call_command("standing", "--check")


def test_what_was_said_by_a_party_stands_when_a_point_is_presented(cast: Cast) -> None:
    an_owner(cast)
    a_line(plan_of(cast), needs=(), letters={"client": "hold", "owner": "hold"})
    point, _ = applied(cast)
    actions.present_points(cast.ines, project=project(cast), points=[point.pk])
    first = actions.release(cast.clara, **signed(HoldPoint.objects.get(pk=point.pk)))
    assert first.left == "waiting"
    actions.take_presentation_back(cast.ines, project=project(cast), points=[point.pk], reason="wet")
    actions.present_points(cast.ines, project=project(cast), points=[point.pk])
    assert point not in awaited(cast.clara)
    assert lies(point) == Lies.READY


def test_refused_and_presented_again_it_is_ready_again(cast: Cast) -> None:
    a_line(plan_of(cast), needs=())
    point, _ = applied(cast)
    actions.refuse(cast.clara, **signed(point, reason="Dust"))
    actions.present_again(cast.ines, point=HoldPoint.objects.get(pk=point.pk), note="Vacuumed")
    assert lies(point) == Lies.READY
    # One event, one letter.
    assert list(Tiding.objects.filter(person=cast.clara).values_list("kind", flat=True)) == ["presented-again"]


def test_one_that_requires_records_is_ready_by_them_and_is_not_presented(cast: Cast) -> None:
    a_line(plan_of(cast))
    point, _ = applied(cast)
    with pytest.raises(Conflict, match="by the records it requires"):
        actions.present_points(cast.ines, project=project(cast), points=[point.pk])


def test_what_is_held_before_it_is_told_to_whoever_presents(cast: Cast) -> None:
    plan = plan_of(cast)
    a_line(plan, "1")
    a_line(plan, "2", coat=2, needs=())
    point = next(each for each in applied(cast) if each.line and each.line.number == "2")
    page = of(cast.ines).get(reverse("point", args=[point.pk])).content.decode()
    assert "not released yet" in page
    assert "Line 1" in page


# --- every kind of record that a line asks for ------------------------------------------------------------------------
def test_a_line_that_asks_for_climate_waits_for_climate_that_passes(cast: Cast) -> None:
    plan = plan_of(cast)
    a_line(plan, "1", needs=("climate",), more={"how_many": 2})
    a_line(plan, "2", coat=None, needs=("climate",))
    after, bare, *_ = applied(cast)
    assert after.requirements.get().coat == bare.requirements.get().coat == cast.site.coats[0]
    sound_record(cast)
    assert lies(after) == Lies.UNREADY
    assert evidence_of(after).why_not == ["No climate record stands for this area."]
    climate_at(cast, "08:00", wet="15.0", steel="19.0")
    assert (lies(after), lies(bare)) == (Lies.UNREADY, Lies.READY)
    assert evidence_of(after).why_not == ["Climate: 1 of 2 records of this area pass and are sound."]
    climate_at(cast, "10:00", wet="15.0", steel="19.0")
    assert lies(after) == Lies.READY
    climate_at(cast, "11:00", wet="19.5", steel="19.0")
    assert (lies(after), lies(bare)) == (Lies.UNREADY, Lies.UNREADY)
    assert evidence_of(bare).why_not == ["Climate: fail."]
    page = of(cast.clara).get(reverse("point", args=[after.pk]))
    assert page.status_code == 200
    call_command("standing", "--check")


def test_a_line_says_how_many_measurements_it_wants_and_how_fresh(cast: Cast) -> None:
    plan = plan_of(cast)
    a_line(plan, "1", more={"how_many": 2})
    a_line(plan, "2", more={"fresh_hours": 1})
    many, fresh, *_ = applied(cast)
    assert [rows.count() for rows in (many.requirements, fresh.requirements)] == [1, 1]
    sound_record(cast)
    assert (lies(many), lies(fresh)) == (Lies.UNREADY, Lies.UNREADY)
    assert evidence_of(many).why_not == ["Thickness: 1 of 2 records of this area carry a release."]
    assert evidence_of(fresh).why_not[0].endswith("counts for 1 h here: it is due again.")
    measured_on(cast, 5)
    assert lies(many) == Lies.READY
    assert evidence_of(many).releasable
    assert evidence_of(many).content["measurements"] == [2, 2]
    assert evidence_of(fresh).required == ()
    call_command("standing", "--check")


def test_a_coat_for_control_wants_so_many_measurements_whatever_they_find(cast: Cast) -> None:
    a_line(plan_of(cast), more={"how_many": 2})
    Coat.objects.filter(pk=cast.site.coats[0].pk).update(decides=False)
    point, *_ = applied(cast)
    sound_record(cast, verdict="fail")
    assert lies(point) == Lies.UNREADY
    measured_on(cast, 5, verdict="fail")
    assert lies(point) == Lies.READY
    assert evidence_of(point).releasable
    call_command("standing", "--check")


def test_what_no_point_can_follow_stands_at_the_line(cast: Cast) -> None:
    a_line(plan_of(cast), "1", coat=None, needs=("thickness",))
    page = of(cast.quinn).get(reverse("plan", args=[project(cast).pk])).content.decode()
    assert page.count("thickness: made after a coat") == 1


# --- several at once --------------------------------------------------------------------------------------------------
def test_several_cells_are_not_applicable_with_one_reason_and_apply_again(cast: Cast) -> None:
    a_line(plan_of(cast))
    points = applied(cast)
    page, client = reverse("points_several", args=[project(cast).pk]), of(cast.quinn)
    ids = [str(point.pk) for point in points]
    sent = {"deed": "close", "shown": ids, "points": ids}
    assert "Say why" in client.post(page, sent).content.decode()
    assert client.post(page, {**sent, "reason": "Stainless"}).status_code == 302
    assert {lies(point) for point in points} == {Lies.CLOSED}
    told = "Not applicable, “Stainless”: A1, A2"
    assert told in client.get(reverse("plan", args=[project(cast).pk])).content.decode()
    matrix = client.get(reverse("points_matrix", args=[project(cast).pk])).content.decode()
    assert matrix.count("Stainless") == 2
    again = client.post(page, {**sent, "reason": "Stainless"})
    assert again.status_code == 422
    assert "is not applicable already" in again.content.decode()
    api = reverse("api_points_several", args=[project(cast).pk])
    back = client.post(api, {"deed": "reopen", "points": ids, "reason": "Painted after all"}, "application/json")
    assert [row["place"] for row in back.json()] == ["unready", "unready"]
    assert of(cast.ines).post(page, {**sent, "reason": "x"}).status_code == 422
    with pytest.raises(NotAllowed):
        actions.close_points(cast.ines, project=project(cast), points=[points[0].pk], reason="x")


def test_all_or_none_and_none_of_another_project(cast: Cast) -> None:
    a_line(plan_of(cast))
    first, second = applied(cast)
    actions.close_point(cast.quinn, point=first, reason="Stainless")
    with pytest.raises(Conflict):
        actions.close_points(cast.quinn, project=project(cast), points=[first.pk, second.pk], reason="Stainless")
    assert lies(second) == Lies.UNREADY
    with pytest.raises(Refused, match="another project"):
        actions.close_points(cast.quinn, project=cast.foreign.project, points=[second.pk], reason="Stainless")
    with pytest.raises(Refused, match="Choose 1 to 200"):
        actions.close_points(cast.quinn, project=project(cast), points=[], reason="Stainless")


# --- another letter at one area ---------------------------------------------------------------------------------------
def test_another_letter_at_one_area_decides_there_and_stands_in_plan_and_matrix(cast: Cast) -> None:
    olga = an_owner(cast)
    a_line(plan_of(cast), letters={"client": "hold"})
    first, second = applied(cast)
    client, page = of(cast.quinn), reverse("points_several", args=[project(cast).pk])
    sent = {"deed": "letter", "shown": [str(first.pk)], "every": "1", "reason": "Survey of the owner"}
    wrong = client.post(page, sent)
    assert "Choose the letter." in wrong.content.decode()
    assert client.post(page, {**sent, "kind": "owner", "letter": "H"}).status_code == 302
    assert client.post(page, {**sent, "kind": "client", "letter": "W"}).status_code == 302
    assert first not in awaited(cast.clara)
    assert first in awaited(cast.clara, "witness")
    assert set(awaited(olga)) == {first}
    assert set(awaited(cast.clara)) == {second}
    sound_record(cast)
    with pytest.raises(NotAllowed):
        actions.release(cast.clara, **signed(HoldPoint.objects.get(pk=first.pk)))
    assert "W client: A1" in client.get(reverse("plan", args=[project(cast).pk])).content.decode()
    assert "H owner, W client" in client.get(reverse("points_matrix", args=[project(cast).pk])).content.decode()
    point = " ".join(client.get(reverse("point", args=[first.pk])).content.decode().split())
    assert "given here: Survey of the owner" in point
    # With no party that holds it, it holds nothing; the way back lets the line's letters stand again.
    actions.give_letter(
        cast.quinn, project=project(cast), points=[first.pk], reason="No survey", party_kind="owner", letter="M"
    )
    assert HoldPoint.objects.get(pk=first.pk).kind == "witness"
    actions.take_letter_back(cast.quinn, project=project(cast), points=[first.pk], reason="A mistake")
    assert HoldPoint.objects.get(pk=first.pk).kind == "hold"
    assert set(awaited(cast.clara)) == {first, second}
    assert PointLetter.objects.filter(ended_at=None).count() == 0
    actions.release(cast.clara, **signed(HoldPoint.objects.get(pk=first.pk)))
    with pytest.raises(Conflict, match="is released"):
        actions.give_letter(
            cast.quinn, project=project(cast), points=[first.pk], reason="late", party_kind="owner", letter="H"
        )
    verbs = JournalEntry.objects.filter(verb__startswith="holdpoint.letter").values_list("verb", flat=True)
    assert sorted(set(verbs)) == ["holdpoint.letter_given", "holdpoint.letter_taken_back"]


@pytest.mark.parametrize(
    ("wrong", "told"),
    [({"letter": "X"}, "not in the legend"), ({"party_kind": "class"}, "no such party")],
)
def test_a_letter_that_cannot_be_gets_its_sentence(cast: Cast, wrong: dict[str, Any], told: str) -> None:
    a_line(plan_of(cast))
    point, _ = applied(cast)
    with pytest.raises(Refused, match=told):
        actions.give_letter(
            cast.quinn, project=project(cast), points=[point.pk], reason="x",
            **{"party_kind": "client", "letter": "W", **wrong},
        )  # fmt: skip
    assert not PointLetter.objects.exists()


def test_a_revision_of_the_plan_keeps_the_letters_of_an_area(cast: Cast) -> None:
    former = plan_of(cast)
    line = a_line(former)
    point, other = applied(cast)
    actions.give_letter(
        cast.quinn, project=project(cast), points=[point.pk], reason="x", party_kind="client", letter="M"
    )
    former.state = "superseded"
    former.save()
    later = plan_of(cast, number=2)
    PlanLine.objects.filter(pk=a_line(later).pk).update(carries_on=line)
    follow_revision(cast.quinn, later, former, "Revised.")
    assert [HoldPoint.objects.get(pk=each.pk).kind for each in (point, other)] == ["witness", "hold"]


def test_what_takes_an_areas_place_keeps_its_letters(cast: Cast) -> None:
    a_line(plan_of(cast))
    point, _ = applied(cast)
    actions.give_letter(
        cast.quinn, project=project(cast), points=[point.pk], reason="x", party_kind="client", letter="W"
    )
    divide_twice(cast, parts(("A1-1", "5"), ("A1-2", "2,5")))
    there = HoldPoint.objects.filter(area__code__startswith="A1-").order_by("area__code")
    assert [(each.kind, each.letters.get().letter) for each in there] == [("witness", "W"), ("witness", "W")]
