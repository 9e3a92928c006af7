"""Who is of another organisation is said by that organisation, or by two of the company; until then nobody acts."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
import time_machine
from django.test import Client

from accounts import actions, admitting
from accounts.models import JournalEntry, Letter, Organisation, Person, Role
from inspection.foundation.refusals import NotAllowed, Refused
from inspection.holdpoints.actions import release
from inspection.holdpoints.models import Decision
from inspection.projects.actions import add_member
from inspection.projects.models import Membership
from inspection.trace.figures import holdpoint
from reports.daily.gathering import gather
from tests.cast import PASSWORD, Cast, person
from tests.holdpoints.scene import a_point, signed, sound_record


@pytest.fixture(autouse=True)
def _days_later() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 3, 9, 12, 0, tzinfo=UTC), tick=True):
        yield


def as_person(someone: Person) -> Client:
    client = Client()
    client.force_login(someone)
    return client


def joined(by: Person, organisation: Organisation, email: str = "nemo@example.com", role: str = Role.CLIENT) -> Person:
    """Somebody who followed the link of an invitation."""
    _, token = actions.invite(by, email=email, name="Nemo Nobody", organisation=organisation, role=role)
    client = Client()
    client.post(f"/invitation/{token}/", {"password": PASSWORD, "again": PASSWORD})
    return Person.objects.get(email=email)


def test_a_quality_manager_cannot_invent_a_client_and_release_for_them(cast: Cast) -> None:
    point = a_point(cast)
    sound_record(cast)
    nemo = joined(cast.quinn, cast.owner)
    quinn, invented = as_person(cast.quinn), as_person(nemo)
    sent = {"person": str(nemo.pk), "role": "client"}
    assert quinn.post(f"/projects/{cast.site.project.pk}/members/new/", sent).status_code == 422
    with pytest.raises(Refused, match="Nobody has confirmed yet that Nemo Nobody is of Owner One"):
        add_member(cast.quinn, project=cast.site.project, person=nemo, role=Role.CLIENT)
    assert quinn.post(f"/people/{nemo.pk}/confirm/").status_code == 403
    # Even with a part that should not be there, the invented person sees and signs nothing.
    Membership.objects.create(project=cast.site.project, person=nemo, organisation=cast.owner, role=Role.CLIENT)
    answer = invented.post(
        f"/hold-points/{point.pk}/release/", {"evidence": signed(point)["evidence_digest"], "password": PASSWORD}
    )
    assert answer.status_code == 404
    for page in (f"/projects/{cast.site.project.pk}/", f"/hold-points/{point.pk}/", f"/api/hold-points/{point.pk}/"):
        assert invented.get(page).status_code == 404
    assert invented.post(f"/people/{nemo.pk}/confirm/").status_code == 404
    assert invented.post("/me/tokens/new/", {"name": "x", "days": "3"}).status_code == 403
    assert not Decision.objects.exists()
    assert "You wait to be confirmed by somebody of Owner One who is here" in invented.get("/me/").content.decode()


def test_the_party_confirms_its_own_and_a_release_says_how_its_signer_was_admitted(cast: Cast) -> None:
    point = a_point(cast)
    sound_record(cast)
    nemo = joined(cast.quinn, cast.owner)
    asked = Letter.objects.filter(kind="to-confirm")
    assert set(asked.values_list("person__name", flat=True)) == {"Clara Client", "Adam Admin"}
    clara = as_person(cast.clara)
    shown = clara.get("/our-people/").content.decode()
    assert "nemo@example.com" in shown
    assert as_person(cast.carl).post(f"/people/{nemo.pk}/confirm/").status_code == 404
    assert "nemo@example.com" not in as_person(cast.carl).get("/our-people/").content.decode()
    assert clara.post(f"/people/{nemo.pk}/confirm/").status_code == 302
    assert clara.post(f"/people/{nemo.pk}/confirm/").status_code == 404
    nemo = Person.objects.get(pk=nemo.pk)
    assert Letter.objects.get(kind="confirmed").person == nemo
    add_member(cast.quinn, project=cast.site.project, person=nemo, role=Role.CLIENT)
    release(nemo, **signed(point))
    how = "invited by Quinn Quality, The Company, on 2026-03-09; confirmed by Clara Client, Owner One, on 2026-03-09"
    assert Decision.objects.get().admitted == how
    assert how in clara.get(f"/hold-points/{point.pk}/").content.decode()
    assert clara.get(f"/api/hold-points/{point.pk}/").json()["decisions"][0]["admitted"] == how
    assert JournalEntry.objects.get(verb="holdpoint.released").after["admitted"] == how
    # What was true then stays, whatever becomes of the person.
    Person.objects.filter(pk=nemo.pk).update(admission="otherwise")
    assert how in clara.get(f"/hold-points/{point.pk}/").content.decode()


def test_report_and_bundle_say_how_a_signer_was_admitted(cast: Cast) -> None:
    point = a_point(cast)
    sound_record(cast)
    Person.objects.filter(pk=cast.clara.pk).update(admission="invited by one; confirmed by another")
    decision = release(Person.objects.get(pk=cast.clara.pk), **signed(point))
    day = cast.site.project.day_of(decision.at)
    said = "Clara Client, Owner One (invited by one; confirmed by another)"
    assert [row.signed_as for row in gather(cast.site.project, day).points] == [said]
    point.refresh_from_db()
    assert any(said in line for line in holdpoint(point))


def test_the_first_of_a_new_organisation_is_confirmed_by_two_of_the_company(cast: Cast) -> None:
    new = actions.add_organisation(cast.quinn, name="Owner Three", kind="client")
    nemo = joined(cast.quinn, new)
    page = as_person(nemo).get("/me/").content.decode()
    assert "You wait to be confirmed by a quality manager or administrator of the inspection company" in page
    assert "nobody of Owner Three is here yet" in page
    assert "Nemo Nobody" in as_person(cast.admin).get("/people/").content.decode()
    assert "You invited them" in as_person(cast.quinn).get("/people/").content.decode()
    assert as_person(cast.ines).post(f"/people/{nemo.pk}/confirm/").status_code == 404
    assert as_person(cast.admin).post(f"/people/{nemo.pk}/confirm/").status_code == 302
    assert Person.objects.get(pk=nemo.pk).roles == {"client"}


def test_known_people_are_told_when_the_company_confirms_one_of_theirs(cast: Cast) -> None:
    nemo = joined(cast.quinn, cast.owner)
    admitting.confirm(cast.admin, person=nemo)
    letter = Letter.objects.get(kind="colleague-confirmed")
    assert letter.person == cast.clara
    assert "confirmed by Adam Admin, The Company" in letter.body


def test_an_inspector_whom_a_quality_manager_brought_in_cannot_be_the_second(cast: Cast) -> None:
    nemo = joined(cast.quinn, cast.owner)
    with pytest.raises(NotAllowed, match="who did not invite"):
        admitting.confirm(cast.ines, person=nemo)


def test_somebody_turned_away_is_out_and_can_be_invited_again(cast: Cast) -> None:
    nemo = joined(cast.quinn, cast.owner)
    clara = as_person(cast.clara)
    assert clara.post(f"/people/{nemo.pk}/turn-away/", {"reason": ""}).status_code == 422
    assert clara.post(f"/people/{nemo.pk}/turn-away/", {"reason": "Not one of us"}).status_code == 302
    assert not Person.objects.get(pk=nemo.pk).is_active
    entry = JournalEntry.objects.get(verb="person.turned_away")
    assert (entry.actor, entry.reason) == (cast.clara, "Not one of us")
    assert joined(cast.admin, cast.owner).waits


def test_whoever_was_confirmed_and_left_waits_again_when_they_come_back(cast: Cast) -> None:
    actions.deactivate(cast.admin, person=cast.clara)
    back = joined(cast.quinn, cast.other_owner, email=cast.clara.email)
    assert back.waits
    assert back.roles == frozenset()


def test_the_companys_own_people_wait_for_nobody(cast: Cast) -> None:
    assert joined(cast.admin, cast.company, role=Role.INSPECTOR).roles == {"inspector"}


def test_the_page_of_ones_people_asks_no_more_for_more_people(
    cast: Cast, django_assert_max_num_queries: Any, client: Client
) -> None:
    for number in range(12):
        person(f"Nr{number} Client", cast.owner, Role.CLIENT)
        Person.objects.create(name=f"W{number}", email=f"w{number}@example.com", organisation=cast.owner)
    client.force_login(cast.clara)
    with django_assert_max_num_queries(9):
        assert client.get("/our-people/").status_code == 200
