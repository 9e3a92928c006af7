"""Parties on pages and in the API: added, ended with what hangs on it, taken up again; parts given to a contractor."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import JournalEntry, Organisation, Person, Role
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, Refused
from inspection.holdpoints.models import HoldPoint
from inspection.plan.models import Plan, PlanLine
from inspection.projects import actions, corrections, division, parties, sections
from inspection.projects.division import Part
from inspection.projects.models import CoatingSystem, InspectionArea, Membership, Party, Project, Section, Structure
from tests import cast as casting
from tests.cast import Cast
from tests.projects.test_breakdown_api import messages, post
from tests.projects.test_pages import as_person, text_of

pytestmark = pytest.mark.django_db
BECAUSE = {"reason": "left the site"}


def painters(cast: Cast, name: str = "Pia") -> tuple[Party, Person]:
    """A painting contractor of the home project with one of its people."""
    organisation = Organisation.objects.create(name=f"Painters of {name}", kind="contractor")
    party = parties.add_party(cast.quinn, project=cast.site.project, organisation=organisation, kind="contractor")
    person = casting.person(f"{name} Painter", organisation, Role.CONTRACTOR)
    actions.add_member(cast.quinn, project=cast.site.project, person=person, role="contractor")
    return party, Person.objects.get(pk=person.pk)


def society(cast: Cast) -> tuple[Organisation, Person]:
    organisation = Organisation.objects.create(name="Class Society", kind="client")
    return organisation, casting.person("Dora Class", organisation, Role.CLIENT)


def codes(person: Person) -> list[str]:
    areas = InspectionArea.objects.visible_to(Person.objects.get(pk=person.pk))
    return [f"{area.structure.project.code} {area.code}" for area in areas.order_by("structure__project__code", "code")]


def bay(cast: Cast, name: str, area: InspectionArea, parent: Section | None = None) -> Section:
    section = sections.add_section(cast.quinn, structure=cast.site.structure, name=name, parent=parent)
    InspectionArea.objects.filter(pk=area.pk).update(section=section)
    return section


def test_a_class_society_is_added_its_person_sees_the_project_until_its_part_ends_and_again(cast: Cast) -> None:
    organisation, dora = society(cast)
    project, manager = cast.site.project, as_person(cast.quinn)
    sent = {"person": dora.pk, "role": "client"}
    refused = text_of(manager.post(reverse("member_new", args=[project.pk]), sent))
    assert (
        "Dora Class belongs to Class Society; the parties of P-1 whose people take part as client: Owner One" in refused
    )
    answer = manager.post(reverse("party_new", args=[project.pk]), {"organisation": organisation.pk, "kind": "class"})
    party = Party.objects.get(project=project, kind="class")
    assert answer.url == reverse("party", args=[party.pk])
    assert manager.post(reverse("member_new", args=[project.pk]), sent).status_code == 302
    address = reverse("project", args=[project.pk])
    assert "Class Society" in text_of(as_person(dora).get(address))
    HoldPoint.objects.create(project=project, area=cast.site.area, coat=cast.site.coats[0], title="Primer")
    asked = text_of(manager.get(reverse("party_end", args=[party.pk])))
    assert "Dora Class takes part and no longer sees P-1" in asked
    assert "1 point waits for them in P-1" in asked
    manager.post(reverse("party_end", args=[party.pk]), BECAUSE)
    assert as_person(dora).get(address).status_code == 404
    assert "Its part ended" in text_of(manager.get(reverse("party", args=[party.pk])))
    manager.post(reverse("party_take_up", args=[party.pk]), {"reason": "ended by mistake"})
    assert as_person(dora).get(address).status_code == 200
    verbs = JournalEntry.objects.filter(verb__startswith="party.").order_by("pk").values_list("verb", "reason")
    assert list(verbs) == [
        ("party.added", ""), ("party.ended", "left the site"), ("party.taken_up_again", "ended by mistake")
    ]  # fmt: skip


def test_what_cannot_be_a_party_is_refused_with_its_sentence(cast: Cast) -> None:
    project = cast.site.project
    with pytest.raises(Refused, match=r"Owner Two stands among the people as “Client, owner, class or maker”"):
        parties.add_party(cast.quinn, project=project, organisation=cast.other_owner, kind="contractor")
    with pytest.raises(Refused, match="Choose client, owner"):
        parties.add_party(cast.quinn, project=project, organisation=cast.company, kind="inspection")
    with pytest.raises(Refused, match=r"Owner One is a client of P-1 already"):
        parties.add_party(cast.quinn, project=project, organisation=cast.owner, kind="client")
    for kind in ("client", "inspection"):
        with pytest.raises(Refused, match="is the project's own"):
            parties.end_party(cast.quinn, party=project.parties.get(kind=kind), reason="gone")
    second = parties.add_party(cast.quinn, project=project, organisation=cast.other_owner, kind="client")
    assert project.parties.filter(kind="client", ended_at=None).count() == 2
    with pytest.raises(Refused, match="reason"):
        parties.end_party(cast.quinn, party=second, reason=" ")
    parties.end_party(cast.quinn, party=second, reason="gone")
    with pytest.raises(Conflict, match="ended already"):
        parties.end_party(cast.quinn, party=second, reason="gone")
    again = parties.add_party(cast.quinn, project=project, organisation=cast.other_owner, kind="client")
    assert again.pk == second.pk


def test_an_organisation_of_two_kinds_goes_on_seeing_when_one_of_them_ends(cast: Cast) -> None:
    project = cast.site.project
    owner = parties.add_party(cast.quinn, project=project, organisation=cast.owner, kind="owner")
    assert not parties.losing_sight(owner)
    parties.end_party(cast.quinn, party=owner, reason="sold")
    assert Project.objects.visible_to(cast.clara).get() == project


def test_a_contractor_sees_all_areas_until_something_is_given_to_it_and_then_that_alone(cast: Cast) -> None:
    party, pia = painters(cast)
    _, other = painters(cast, "Otto")
    assert codes(pia) == ["P-1 A1", "P-1 A2"]
    fore = bay(cast, "Fore", cast.site.other_area)
    deep = bay(cast, "Frame 9", cast.site.area, parent=fore)
    given = parties.give_scope(cast.quinn, party=party, place=deep)
    assert codes(pia) == ["P-1 A1"]
    assert {str(each) for each in Section.objects.visible_to(pia)} == {"Fore", "Fore / Frame 9"}
    assert codes(other) == ["P-1 A1", "P-1 A2"]
    parties.give_scope(cast.quinn, party=party, place=fore)
    parties.end_scope(cast.quinn, scope=given, reason="all of the fore part")
    assert codes(pia) == ["P-1 A1", "P-1 A2"]
    InspectionArea.objects.update(section=None)
    sections.remove_section(cast.quinn, section=deep, reason="not there")
    with pytest.raises(Conflict, match="is given to Painters of Pia; take it from them first"):
        sections.remove_section(cast.quinn, section=fore, reason="not there")


def test_a_section_whose_name_only_begins_alike_is_not_given_along(cast: Cast) -> None:
    party, pia = painters(cast)
    bay(cast, "Bay 10", cast.site.other_area)
    parties.give_scope(cast.quinn, party=party, place=bay(cast, "Bay 1", cast.site.area))
    assert codes(pia) == ["P-1 A1"]


def test_parts_of_an_area_that_was_given_are_given_and_what_is_merged_only_where_all_was(cast: Cast) -> None:
    party, pia = painters(cast)
    parties.give_scope(cast.quinn, party=party, place=cast.site.area)
    made = division.divide_area(
        cast.quinn,
        area=cast.site.area,
        parts=[Part("A1-1", "Fore", Decimal(4)), Part("A1-2", "Aft", Decimal(4))],
        reason="strakes",
    )
    assert codes(pia) == ["P-1 A1", "P-1 A1-1", "P-1 A1-2"]
    division.merge_areas(
        cast.quinn, areas=[made[0], cast.site.other_area], code="A9", name="Both", reason="one strake"
    )  # fmt: skip
    assert codes(pia) == ["P-1 A1", "P-1 A1-1", "P-1 A1-2"]


def test_pages_tell_a_contractor_of_its_scope_and_of_no_other_contractor(cast: Cast) -> None:
    party, pia = painters(cast)
    _, otto = painters(cast, "Otto")
    corrections.correct_project(
        cast.quinn, project=cast.site.project, code="P-1", name="Works P-1", client=cast.owner, time_zone="UTC",
        contractor=otto.organisation, unit="um", shift_starts="06:00, 18:00", reason="named",
    )  # fmt: skip
    elsewhere = Structure.objects.create(project=cast.site.project, name="Funnel")
    CoatingSystem.objects.create(project=cast.site.project, name="Heat system", preparation_grade="Sa 3")
    manager = as_person(cast.quinn)
    sent = {"structure": cast.site.structure.pk, "code": "a1"}
    assert manager.post(reverse("scope_give", args=[party.pk]), sent).status_code == 302
    words = text_of(as_person(pia).get(reverse("project", args=[cast.site.project.pk])))
    assert "A1 Hatch" in words
    for foreign in ("A2 Shell", "Funnel", "Heat system", "Otto", "Audrey Auditor"):
        assert foreign not in words, foreign
    for told in ("Painters of Pia", "Owner One", "Clara Client", "1 area, 8 m²"):
        assert told in words, told
    assert as_person(pia).get(reverse("structure", args=[elsewhere.pk])).status_code == 404
    assert as_person(pia).get(reverse("area", args=[cast.site.other_area.pk])).status_code == 404
    tree = text_of(as_person(pia).get(reverse("structure", args=[cast.site.structure.pk])))
    assert "A1 Hatch" in tree
    assert "A2 Shell" not in tree
    listed = as_person(pia).get(reverse("api_project", args=[cast.site.project.pk])).json()
    assert (listed["area_count"], listed["contractor"]) == (1, None)
    names = [each["organisation_name"] for each in as_person(pia).get(reverse("api_party_list")).json()["results"]]
    assert sorted(names) == ["Owner One", "Painters of Pia", "The Company"]


def test_the_api_adds_ends_and_takes_up_parties_and_gives_scopes(cast: Cast) -> None:
    organisation, _ = society(cast)
    project, area = str(cast.site.project.pk), str(cast.site.area.pk)
    new = {"project": project, "organisation": str(organisation.pk)}
    status, added = post(cast.quinn, "parties/add", **new, kind="class")
    assert (status, added["kind"], added["ended_at"], added["people"]) == (201, "class", None, [])
    assert "not a valid choice" in messages(post(cast.quinn, "parties/add", **new, kind="agent"))
    assert "no such organisation" in messages(
        post(cast.quinn, "parties/add", project=project, organisation=str(new_id()), kind="class")
    )
    _, ended = post(cast.quinn, f"parties/{added['id']}/end", **BECAUSE)
    assert ended["ended_at"]
    assert post(cast.quinn, f"parties/{added['id']}/end", **BECAUSE)[0] == 409
    assert post(cast.quinn, f"parties/{added['id']}/take-up", **BECAUSE)[1]["ended_at"] is None
    assert "no painting contractor" in messages(post(cast.quinn, f"parties/{added['id']}/scope", area=area))
    party, pia = painters(cast)
    assert "one of the two" in messages(post(cast.quinn, f"parties/{party.pk}/scope"))
    status, given = post(cast.quinn, f"parties/{party.pk}/scope", area=area)
    assert (status, given["area"]) == (201, area)
    assert "given to Painters of Pia already" in messages(post(cast.quinn, f"parties/{party.pk}/scope", area=area))
    foreign = str(cast.foreign.area.pk)
    assert "lies in another project" in messages(post(cast.quinn, f"parties/{party.pk}/scope", area=foreign))
    shown = as_person(cast.clara).get(f"/api/parties/{party.pk}/").json()
    assert [person["name"] for person in shown["people"]] == ["Pia Painter"]
    assert [scope["area"] for scope in shown["scope"]] == [area]
    assert post(cast.quinn, f"scopes/{given['id']}/end", **BECAUSE)[0] == 200
    assert post(cast.quinn, f"scopes/{given['id']}/end", **BECAUSE)[0] == 409
    assert post(cast.carl, f"parties/{party.pk}/end", **BECAUSE)[0] == 404
    assert post(pia, f"parties/{party.pk}/end", **BECAUSE)[0] == 403


def test_the_pages_of_parties_cost_the_same_for_two_people_and_twenty(cast: Cast) -> None:
    party, _ = painters(cast)

    def cost(address: str) -> int:
        client = as_person(cast.quinn)
        with CaptureQueriesContext(connection) as caught:
            client.get(address)
        return len(caught)

    addresses = [reverse("api_party_list"), reverse("party", args=[party.pk])]
    before = [cost(address) for address in addresses]
    for number in range(20):
        one = casting.person(f"P{number} Painter", party.organisation, Role.CONTRACTOR)
        Membership.objects.create(project=party.project, person=one, organisation=party.organisation, role="contractor")
        Party.objects.create(
            project=party.project, kind="maker",
            organisation=Organisation.objects.create(name=f"Maker {number}", kind="client"),
        )  # fmt: skip
    assert [cost(address) for address in addresses] == before


def test_a_line_of_a_plan_that_names_the_party_is_told_before_its_part_ends(cast: Cast) -> None:
    organisation, _ = society(cast)
    party = parties.add_party(cast.quinn, project=cast.site.project, organisation=organisation, kind="class")
    revision = Plan.objects.create(project=cast.site.project, name="Tank").revisions.create(number=1, state="in_force")
    line = PlanLine.objects.create(
        revision=revision, number="1", activity="cleanliness", title="Blasted", scope="area", frequency="every area"
    )
    line.interventions.create(party_kind="class", party=party, letter="H", meaning="hold")
    asked = text_of(as_person(cast.quinn).get(reverse("party_end", args=[party.pk])))
    assert "1 line of a plan in force names it; revise the plan" in asked
