"""What a painting contractor's people see of plan and points, within what is given to them, and what they decide."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import pytest
import time_machine
from django.http import Http404
from django.test import Client
from django.urls import reverse

from accounts.models import Letter, Organisation, Person, Role
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.holdpoints import actions
from inspection.holdpoints.models import HoldPoint
from inspection.plan import content, queries, revisions
from inspection.plan.models import Intervention, PlanRevision
from inspection.projects.models import Membership, Party, Scope, Section
from tests import cast as casting
from tests.cast import PASSWORD, Cast
from tests.holdpoints.planned import a_line, plan_of
from tests.holdpoints.scene import signed, sound_record

# What lies outside of what is given to the painter, or is another's word.
SECRETS = ("Quince", "Sprayers", "Medlar", "remark", "G1")


@pytest.fixture(autouse=True)
def _days_later() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 3, 9, 12, 0, tzinfo=UTC), tick=False):
        yield


@dataclass
class Scene:
    painter: Person
    party: Party
    other: Party
    plan: PlanRevision
    mine: HoldPoint
    theirs: HoldPoint


def contractor(cast: Cast, name: str) -> tuple[Person, Party]:
    organisation = Organisation.objects.create(name=name, kind=Organisation.Kind.CONTRACTOR)
    party = Party.objects.create(project=cast.site.project, organisation=organisation, kind=Party.Kind.CONTRACTOR)
    someone = casting.person(f"{name} Foreman", organisation, Role.CONTRACTOR)
    Membership.objects.create(
        project=cast.site.project, person=someone, organisation=organisation, role=Role.CONTRACTOR
    )
    return someone, party


@pytest.fixture
def scene(cast: Cast) -> Scene:
    """The first area is the painter's; the other, in a section of its own, is not."""
    site = cast.site
    painter, party = contractor(cast, "Painters")
    _, other = contractor(cast, "Sprayers")
    for area, name in ((site.area, "North"), (site.other_area, "Quince")):
        area.section = Section.objects.create(structure=site.structure, name=name, path=name)
        area.save()
    site.other_area.name = "Medlar"
    site.other_area.save()
    Scope.objects.create(party=party, section=site.area.section)
    plan = plan_of(cast)
    line = a_line(plan, "1", letters={"client": "hold"})
    Intervention.objects.create(line=line, party_kind="contractor", party=party, letter="H", meaning="hold")
    second = a_line(plan, "2", letters={"client": "witness"})
    Intervention.objects.create(line=second, party_kind="contractor", party=other, letter="H", meaning="hold")
    actions.apply_plan(cast.quinn, project=site.project, areas=[site.area, site.other_area])
    points = HoldPoint.objects.filter(line=line)
    return Scene(painter, party, other, plan, points.get(area=site.area), points.get(area=site.other_area))


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def addresses(cast: Cast, scene: Scene) -> list[str]:
    project = cast.site.project.pk
    return [
        reverse("plan", args=[project]), reverse("plan_revision", args=[scene.plan.pk]), reverse("board"),
        f"{reverse('board')}?project={project}", f"{reverse('board')}?words=Medlar",
        reverse("points_matrix", args=[project]), f"{reverse('points_matrix', args=[project])}?party=contractor",
        reverse("point", args=[scene.mine.pk]), reverse("areas_of_ours", args=[project]),
        reverse("project", args=[project]), reverse("api_plan_revision", args=[scene.plan.pk]),
        reverse("api_plan_revision_list"), reverse("api_point_list"), reverse("api_point", args=[scene.mine.pk]),
        reverse("api_points_matrix", args=[project]),
    ]  # fmt: skip


def test_pages_and_api_tell_a_contractor_of_what_is_given_to_them_and_nothing_else(cast: Cast, scene: Scene) -> None:
    sound_record(cast)
    actions.refuse(cast.clara, **signed(scene.mine, reason="A remark of the client"))
    actions.close_point(cast.quinn, point=HoldPoint.objects.get(line__number="2", area=cast.site.area), reason="remark")
    painter, clara = client_of(scene.painter), client_of(cast.clara)
    for address in addresses(cast, scene):
        answer = painter.get(address)
        assert answer.status_code == 200, address
        text = answer.content.decode()
        # What was asked for stands in the box it was typed into.
        text = text.replace('value="Medlar"', "").replace("words=Medlar", "")
        # The token of a form may hold any two letters.
        text = re.sub(r'name="csrfmiddlewaretoken" value="[^"]*"', "", text)
        assert not [word for word in SECRETS if word in text], address
        assert str(scene.other.pk) not in text
    # The same pages tell the client of it, so the words are there to be told.
    told = " ".join(
        clara.get(address).content.decode() for address in addresses(cast, scene) if "of-ours" not in address
    )
    assert all(word in told for word in ("Quince", "Sprayers", "Medlar", "remark"))
    assert "All (2)" in painter.get(reverse("board")).content.decode()
    assert "All (4)" in clara.get(reverse("board")).content.decode()
    assert painter.get(f"{reverse('board')}?words=Medlar").content.decode().count("All (0)") == 1
    matrix = painter.get(reverse("points_matrix", args=[cast.site.project.pk])).content.decode()
    assert "North" in matrix
    # The letter of another contractor does not show by the lines that a filter leaves.
    lines = painter.get(f"{reverse('points_matrix', args=[cast.site.project.pk])}?party=contractor").content.decode()
    assert "Line 1" in lines
    assert "Line 2" not in lines


def test_what_is_out_of_their_scope_is_not_there(cast: Cast, scene: Scene) -> None:
    painter = client_of(scene.painter)
    for name in ("point", "api_point"):
        assert painter.get(reverse(name, args=[scene.theirs.pk])).status_code == 404
    for name in ("thickness_list", "trace", "journal", "report_list"):
        assert painter.get(reverse(name)).status_code == 403
    with pytest.raises(Http404):
        actions.release(scene.painter, **signed(scene.theirs))
    draft = PlanRevision.objects.create(plan=scene.plan.plan, number=2)
    assert painter.get(reverse("plan_revision", args=[draft.pk])).status_code == 404


def test_a_contractor_with_a_letter_decides_for_its_party_and_is_told_what_is_lacking(cast: Cast, scene: Scene) -> None:
    page = client_of(scene.painter).get(reverse("point", args=[scene.mine.pk])).content.decode()
    assert "not recorded yet" in page
    with pytest.raises(Refused, match="not recorded yet"):
        actions.release(scene.painter, **signed(scene.mine))
    sound_record(cast)
    page = client_of(scene.painter).get(reverse("point", args=[scene.mine.pk])).content.decode()
    assert "Sign and release" in page
    assert "All 30 readings" not in page
    decision = actions.release(scene.painter, **signed(scene.mine))
    assert (decision.party, decision.left) == (scene.party, "waiting")
    actions.release(cast.clara, **signed(HoldPoint.objects.get(pk=scene.mine.pk)))
    with pytest.raises(Conflict) as late:
        actions.waive(scene.painter, **signed(HoldPoint.objects.get(pk=scene.mine.pk), reason="far"))
    assert "This point is released already." in str(late.value)
    second = HoldPoint.objects.get(line__number="2", area=cast.site.area)
    with pytest.raises(NotAllowed):
        actions.release(scene.painter, **signed(second))


def test_a_contractor_approves_the_plan_for_its_own_party_where_it_is_asked(cast: Cast, scene: Scene) -> None:
    draft = revisions.begin_revision(cast.quinn, plan=scene.plan.plan, note="Second")
    client = Party.objects.get(project=cast.site.project, kind=Party.Kind.CLIENT)
    revisions.ask_approval(cast.quinn, revision=draft, parties=[client, scene.party, scene.other])
    assert Letter.objects.filter(kind="plan-to-approve", person=scene.painter).exists()
    address = reverse("plan_revision", args=[draft.pk])
    page = client_of(scene.painter).get(address).content.decode()
    assert "Sign and approve" in page
    assert "Sprayers" not in page
    digest = content.digest_of_revision(draft, queries.lines_of(draft))
    given = revisions.approve(cast.clara, revision=draft, password=PASSWORD, digest=digest)
    sent: dict[str, Any] = {"digest": digest, "password": PASSWORD}
    answer = client_of(scene.painter).post(reverse("plan_approve", args=[draft.pk]), sent)
    assert answer.status_code == 302
    own = draft.approvals.get(party=scene.party)
    assert client_of(scene.painter).get(reverse("plan_withdraw", args=[own.pk])).status_code == 200
    assert client_of(scene.painter).get(reverse("plan_withdraw", args=[given[0].pk])).status_code == 404
    with pytest.raises(Refused, match="Sprayers"):
        revisions.bring_into_force(cast.quinn, revision=draft)
