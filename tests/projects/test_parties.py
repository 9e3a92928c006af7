"""Who is a party of a project, whose people see it, and what they see when that ends."""

from __future__ import annotations

import pytest
from django.utils import timezone

from accounts.models import Organisation, Person, Role
from inspection.projects import actions, corrections
from inspection.projects.models import Membership, Party, Project
from inspection.projects.queries import parties_of
from tests import cast as casting
from tests.cast import Cast

pytestmark = pytest.mark.django_db


def kinds(project: Project) -> dict[str, str]:
    rows = Party.objects.in_force().filter(project=project).select_related("organisation")
    return {row.kind: row.organisation.name for row in rows}


def test_a_project_has_its_client_its_contractor_and_the_company_as_parties(cast: Cast) -> None:
    painters = Organisation.objects.create(name="Painters", kind="contractor")
    opened = actions.open_project(
        cast.quinn, code="P-9", name="Quay", client=cast.owner, contractor=painters, time_zone="UTC"
    )
    assert kinds(opened) == {"client": "Owner One", "contractor": "Painters", "inspection": "The Company"}


def test_another_client_of_a_corrected_project_takes_the_place_of_the_former(cast: Cast) -> None:
    project = actions.open_project(cast.quinn, code="P-9", name="Quay", client=cast.owner, time_zone="UTC")
    corrections.correct_project(
        cast.quinn, project=project, code="P-9", name="Quay", client=cast.other_owner, time_zone="UTC", unit="um",
        shift_starts="06:00", reason="the other owner",
    )  # fmt: skip
    assert kinds(project) == {"client": "Owner Two", "inspection": "The Company"}
    assert project.parties.exclude(ended_at=None).get().organisation == cast.owner


def test_people_of_a_class_society_see_the_project_while_it_is_a_party(cast: Cast) -> None:
    society = Organisation.objects.create(name="Class Society", kind="client")
    dora = casting.person("Dora Class", society, Role.CLIENT)
    project = cast.site.project
    Membership.objects.create(project=project, person=dora, organisation=society, role=Role.CLIENT)
    assert not Project.objects.visible_to(dora).exists()
    party = Party.objects.create(project=project, organisation=society, kind=Party.Kind.CLASS)
    assert list(Project.objects.visible_to(dora)) == [project]
    assert list(parties_of(dora, project)) == [party]
    Party.objects.filter(pk=party.pk).update(ended_at=party.begun_at)
    assert not Project.objects.visible_to(dora).exists()
    assert not parties_of(dora, project)


def test_the_company_s_people_act_for_the_company_and_an_auditor_for_nobody(cast: Cast) -> None:
    project = cast.site.project
    for person in (cast.ines, cast.quinn):
        assert [party.kind for party in parties_of(person, project)] == ["inspection"], person
    assert [party.kind for party in parties_of(cast.clara, project)] == ["client"]
    for person in (cast.audrey, cast.igor, cast.carl):
        assert not parties_of(person, project), person


def _change(cast: Cast, what: str) -> None:
    """Something by which Clara's or Ines's part may no longer be in force."""
    match what:
        case "part ended":
            Membership.objects.filter(person=cast.clara).update(ended_at=timezone.now())
        case "role ended":
            cast.ines.grants.update(ended_at=timezone.now())
        case "another role":
            cast.clara.grants.update(role=Role.INSPECTOR)
        case "party ended":
            Party.objects.filter(project=cast.site.project, kind=Party.Kind.CLIENT).update(ended_at=timezone.now())
        case "another organisation":
            Person.objects.filter(pk=cast.clara.pk).update(organisation=cast.other_owner)
        case "out of service":
            Person.objects.filter(pk=cast.ines.pk).update(is_active=False)


@pytest.mark.parametrize(
    "what",
    ["", "part ended", "role ended", "another role", "party ended", "another organisation", "out of service"],
)
def test_the_parts_in_force_of_one_person_are_those_in_force(cast: Cast, what: str) -> None:
    _change(cast, what)
    found = {}
    for person in Person.objects.all():
        of_all = set(Membership.objects.in_force().filter(person=person))
        assert set(Membership.objects.in_force_of(person)) == of_all, f"{person}, {what}"
        found[person.pk] = bool(of_all)
    theirs = found[cast.ines.pk] and found[cast.clara.pk]
    assert theirs is (not what), "each change ends the part of one of them"
