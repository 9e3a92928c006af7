"""Who is told that a point is ready for them, presented again or refused; once, and nobody who does not see it."""

from __future__ import annotations

from accounts import tidings
from accounts.models import Letter, Tiding
from inspection.holdpoints import actions
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.models import HoldPoint
from tests.cast import PASSWORD, Cast
from tests.holdpoints.scene import a_point
from tests.standing.scene import fall, measure, verify


def told(kind: str) -> list[tuple[str, str]]:
    return sorted(Tiding.objects.filter(kind=kind).values_list("person__name", "subject"))


def ready(cast: Cast) -> HoldPoint:
    point = a_point(cast)
    verify(cast, "06:40")
    measure(cast, "08:00", "08:20")
    verify(cast, "09:00")
    point.refresh_from_db()
    return point


def test_a_point_that_becomes_ready_is_told_to_the_clients_people_once(cast: Cast) -> None:
    point = ready(cast)
    words = [("Clara Client", f"P-1, {point}: ready for you")]
    assert told("point-ready") == words
    # Not ready for a while, and ready again: the same thing.
    fall(cast, "08:10")
    verify(cast, "08:05")
    verify(cast, "08:50")
    assert told("point-ready") == words


def test_a_refusal_is_told_to_those_who_work_there_and_a_point_presented_again_to_those_who_decide(cast: Cast) -> None:
    tidings.choose(cast.quinn, ways={"refused": "at_once"})
    point = ready(cast)
    digest = evidence_of(point).digest
    actions.refuse(cast.clara, point=point, password=PASSWORD, evidence_digest=digest, reason="Sags at the edge")
    assert told("refused") == [("Ines Inspector", f"P-1, {point}: refused")]
    letter = Letter.objects.get(kind="refused")
    assert (letter.person, letter.project_id) == (cast.quinn, cast.site.project.pk)
    assert "Sags at the edge" in letter.body
    point.refresh_from_db()
    actions.present_again(cast.ines, point=point, note="Ground and touched up")
    assert told("presented-again") == [("Clara Client", f"P-1, {point}: presented again")]
