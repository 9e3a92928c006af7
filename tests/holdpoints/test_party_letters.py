"""Letters of points go party by party: to those whose parties have a letter at the line, not to every client."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from accounts.models import Letter, Organisation, Person, Role, Tiding
from inspection.holdpoints import actions
from inspection.holdpoints.actions.letters import tell_of_ready
from inspection.holdpoints.models import HoldPoint
from inspection.projects.models import InspectionArea, Membership, Party, Scope
from tests import cast as casting
from tests.cast import Cast
from tests.holdpoints.planned import a_line, an_owner, plan_of
from tests.holdpoints.scene import signed, sound_record
from tests.standing.scene import fall


@pytest.fixture(autouse=True)
def _days_later() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 3, 9, 12, 0, tzinfo=UTC), tick=False):
        yield


def told(kind: str) -> list[str]:
    return sorted(Tiding.objects.filter(kind=kind).values_list("person__name", flat=True))


def a_painter(cast: Cast, scope: InspectionArea) -> Person:
    organisation = Organisation.objects.create(name="Painters", kind=Organisation.Kind.CONTRACTOR)
    party = Party.objects.create(project=cast.site.project, organisation=organisation, kind=Party.Kind.CONTRACTOR)
    painter = casting.person("Petra Painter", organisation, Role.CONTRACTOR)
    Membership.objects.create(
        project=cast.site.project, person=painter, organisation=organisation, role=Role.CONTRACTOR
    )
    Scope.objects.create(party=party, area=scope)
    return painter


def applied(cast: Cast) -> HoldPoint:
    actions.apply_plan(cast.quinn, project=cast.site.project, areas=[cast.site.area])
    return HoldPoint.objects.get()


def test_ready_is_told_to_the_parties_with_a_letter_there(cast: Cast) -> None:
    olga = an_owner(cast)
    painter = a_painter(cast, cast.site.area)
    a_line(plan_of(cast), letters={"owner": "hold", "contractor": "witness", "inspection": "perform"})
    applied(cast)
    sound_record(cast)
    assert told("point-ready") == sorted([olga.name, painter.name])


def test_a_contractor_is_told_of_points_in_its_scope_only(cast: Cast) -> None:
    a_painter(cast, cast.site.other_area)
    a_line(plan_of(cast), letters={"client": "hold", "contractor": "witness"})
    applied(cast)
    sound_record(cast)
    assert told("point-ready") == [cast.clara.name]


def test_a_refusal_reaches_who_works_there_and_a_contractor_without_who_and_why(cast: Cast) -> None:
    olga = an_owner(cast)
    painter = a_painter(cast, cast.site.area)
    a_line(plan_of(cast), letters={"client": "hold", "owner": "review", "contractor": "perform"})
    point = applied(cast)
    sound_record(cast)
    actions.refuse(cast.clara, **signed(point, reason="Runs at the edge"))
    assert told("refused") == sorted([cast.ines.name, cast.quinn.name, painter.name])
    assert "Runs at the edge" in Tiding.objects.get(kind="refused", person=cast.ines).body
    to_painter = Tiding.objects.get(kind="refused", person=painter)
    assert "Runs" not in to_painter.body
    assert cast.clara.name not in to_painter.body
    actions.present_again(cast.ines, point=HoldPoint.objects.get(), note="Sanded")
    assert told("presented-again") == [cast.clara.name]
    assert olga.name not in told("refused")


def test_a_doubt_reaches_all_who_act_for_the_parties_that_hold_the_point(cast: Cast) -> None:
    colleague = casting.person("Cora Client", cast.owner, Role.CLIENT)
    Membership.objects.create(project=cast.site.project, person=colleague, organisation=cast.owner, role=Role.CLIENT)
    olga, painter = an_owner(cast), a_painter(cast, cast.site.area)
    a_line(plan_of(cast), letters={"client": "hold", "contractor": "hold", "owner": "witness"})
    point = applied(cast)
    sound_record(cast)
    actions.release(cast.clara, **signed(point))
    actions.release(painter, **signed(HoldPoint.objects.get()))
    fall(cast, "10:00")
    letters = {letter.person: letter for letter in Letter.objects.filter(kind="released-in-doubt")}
    assert set(letters) == {cast.clara, colleague, painter}
    assert "A point you released is in doubt" in letters[cast.clara].subject
    assert "A released point is in doubt" in letters[colleague].subject
    assert olga not in letters
    assert "G-01" not in letters[painter].body


def test_telling_of_many_takes_as_many_queries_as_of_few(cast: Cast) -> None:
    a_line(plan_of(cast), letters={"client": "hold", "contractor": "witness"})
    a_painter(cast, cast.site.area)
    site = cast.site
    InspectionArea.objects.bulk_create(
        InspectionArea(structure=site.structure, system=site.system, code=f"B{n}", name="Plate", area_m2=1)
        for n in range(20)
    )
    areas = list(InspectionArea.objects.filter(code__startswith="B"))
    actions.apply_plan(cast.quinn, project=site.project, areas=areas)
    pks = list(HoldPoint.objects.values_list("pk", flat=True))
    taken = []
    for few in (pks[:2], pks[2:]):
        with CaptureQueriesContext(connection) as asked:
            tell_of_ready(few)
        taken.append(len(asked))
    assert taken[0] == taken[1]
