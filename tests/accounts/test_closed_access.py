"""Somebody whose access was closed and who is invited again: nothing of what they had comes back by itself."""

from __future__ import annotations

import pytest
from django.test import Client
from django.utils import timezone

from accounts import actions
from accounts.admitting import confirm
from accounts.models import JournalEntry, Letter, Organisation, Person, Role
from inspection.holdpoints.actions import release
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.projects.actions import add_member
from inspection.projects.models import Membership
from reports.attention.calendar import make_link
from reports.attention.models import CalendarLink
from tests.cast import Cast
from tests.holdpoints.scene import a_point, signed, sound_record
from tests.standing.scene import withdraw

AGAIN = "another good passphrase"


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def close_and_invite(cast: Cast, organisation: Organisation) -> Client:
    """Clara as she comes in after her access was closed on its page and she followed a new invitation."""
    as_person(cast.admin).post(f"/people/{cast.clara.pk}/close/")
    _, token = actions.invite(
        cast.admin, email=cast.clara.email, name="Clara Client", organisation=organisation, role=Role.CLIENT
    )
    client = Client()
    sent = {"password": AGAIN, "again": AGAIN}
    assert client.post(f"/invitation/{token}/", sent).status_code == 302
    return client


@pytest.mark.parametrize("party", ["owner", "other_owner"])
def test_whoever_is_closed_and_invited_again_gets_no_project_paper_feed_or_session_back(cast: Cast, party: str) -> None:
    point, old = a_point(cast), as_person(cast.clara)
    pages = [f"/projects/{cast.site.project.pk}/", f"/hold-points/{point.pk}/", f"/api/hold-points/{point.pk}/"]
    assert [old.get(page).status_code for page in pages] == [200, 200, 200]
    _, feed = make_link(cast.clara, name="phone")
    assert Client().get(f"/calendar/{feed}.ics").status_code == 200
    back = close_and_invite(cast, getattr(cast, party))
    assert [back.get(page).status_code for page in pages] == [404, 404, 404]
    assert cast.site.project.code not in back.get("/projects/").content.decode()
    assert Client().get(f"/calendar/{feed}.ics").status_code == 404
    assert old.get("/me/")["Location"].startswith("/sign-in/")
    verbs = list(JournalEntry.objects.order_by("pk").values_list("verb", flat=True))
    assert verbs.index("membership.ended") < verbs.index("person.deactivated") < verbs.index("person.joined")
    assert "calendar_link.revoked" in verbs


def test_a_part_from_before_gives_no_sight_under_another_organisation(cast: Cast) -> None:
    """As a database from before the rule has it: the part was never ended, the person now belongs to another client."""
    Person.objects.filter(pk=cast.clara.pk).update(organisation=cast.other_owner)
    client, point = as_person(cast.clara), a_point(cast)
    assert client.get(f"/projects/{cast.site.project.pk}/").status_code == 404
    assert client.get(f"/hold-points/{point.pk}/").status_code == 404
    assert client.get(f"/api/projects/{cast.site.project.pk}/").status_code == 404


def test_a_clients_part_needs_the_role_and_the_party(cast: Cast) -> None:
    page = f"/projects/{cast.site.project.pk}/"
    assert as_person(cast.clara).get(page).status_code == 200
    party = cast.site.project.parties.filter(kind="client")
    party.update(ended_at=timezone.now())
    assert as_person(cast.clara).get(page).status_code == 404
    party.update(ended_at=None)
    actions.end_role(cast.admin, person=cast.clara, role=Role.CLIENT)
    cast.clara.grants.create(role=Role.AUDITOR)
    assert as_person(Person.objects.get(pk=cast.clara.pk)).get(page).status_code == 404


def test_what_was_open_before_somebody_comes_back_ends_then(cast: Cast) -> None:
    """As a database has it in which access was closed before closing ended parts and links."""
    make_link(cast.clara, name="phone")
    Person.objects.filter(pk=cast.clara.pk).update(is_active=False)
    _, token = actions.invite(
        cast.admin, email=cast.clara.email, name="Clara C. Client", organisation=cast.owner, role=Role.CLIENT
    )
    back = actions.accept_invitation(token=token, password=AGAIN)
    assert not Membership.objects.filter(person=back, ended_at=None).exists()
    assert not CalendarLink.objects.filter(person=back, revoked_at=None).exists()
    assert [each["name"] for each in back.former_names] == ["Clara Client"]


def test_nobody_is_written_to_about_a_project_they_have_left(cast: Cast) -> None:
    point = a_point(cast)
    sound_record(cast)
    release(cast.clara, **signed(point))
    assert Decision.objects.get().outcome == "released"
    Membership.objects.filter(person=cast.clara).update(ended_at="2026-03-05T00:00Z")
    withdraw(cast, cast.shim_certificate)
    assert HoldPoint.objects.get().doubted_at
    assert not Letter.objects.filter(person=cast.clara).exclude(kind="decision").exists()


def test_whoever_came_back_takes_part_again_once_they_are_confirmed_and_added(cast: Cast) -> None:
    back = close_and_invite(cast, cast.owner)
    clara = confirm(cast.quinn, person=Person.objects.get(pk=cast.clara.pk))
    add_member(cast.quinn, project=cast.site.project, person=clara, role=Role.CLIENT)
    assert back.get(f"/projects/{cast.site.project.pk}/").status_code == 200
