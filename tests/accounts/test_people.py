"""Invitations, roles, closing access: what an administrator does, and what nobody else can."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from accounts import actions, post
from accounts.models import ApiToken, Invitation, JournalEntry, Letter, Organisation, Person, Role, RoleGrant
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from tests.cast import PASSWORD, Cast, scheme


def invite(cast: Cast, **changes: object) -> tuple[Invitation, str]:
    sent = {"email": "nora@example.com", "name": "Nora New", "organisation": cast.company, "role": Role.INSPECTOR}
    return actions.invite(cast.admin, **{**sent, **changes})


def test_an_invited_person_follows_the_mailed_link_and_is_in(cast: Cast, client: Client, mailoutbox: list) -> None:
    invite(cast)
    post.send_due()
    (letter,) = mailoutbox
    assert letter.to == ["nora@example.com"]
    link = re.search(r"http://localhost:8000(/invitation/\S+)", letter.body)
    assert link
    assert "Welcome, Nora New" in client.get(link[1]).content.decode()
    answer = client.post(link[1], {"password": PASSWORD, "again": PASSWORD})
    assert (answer.status_code, answer["Location"]) == (302, "/")
    assert "Nora New" in client.get("/me/").content.decode()
    nora = Person.objects.get(email="nora@example.com")
    assert nora.roles == {"inspector"}
    assert nora.check_password(PASSWORD)


def test_the_invite_page_offers_every_organisation_that_somebody_can_be_of(cast: Cast, client: Client) -> None:
    contractor = actions.add_organisation(cast.admin, name="Quayside Blasting", kind=Organisation.Kind.CONTRACTOR)
    client.force_login(cast.admin)
    assert f'<option value="{contractor.pk}"' in client.get("/people/invite/").content.decode()
    sent = {"name": "Con New", "email": "con@example.com", "organisation": contractor.pk, "role": Role.CONTRACTOR}
    assert client.post("/people/invite/", sent).status_code == 302
    assert Invitation.objects.get().organisation == contractor


def test_the_link_is_kept_nowhere_once_it_is_sent(cast: Cast, mailoutbox: list) -> None:
    _, token = invite(cast)
    assert token in Letter.objects.get().body
    post.send_due()
    assert token in mailoutbox[0].body
    kept = [*Letter.objects.values_list("body", flat=True), *Invitation.objects.values_list("token_digest", flat=True)]
    kept += [str(entry.after) for entry in JournalEntry.objects.all()]
    assert not [text for text in kept if token in text]


def test_a_link_is_good_once(cast: Cast, client: Client) -> None:
    _, token = invite(cast)
    actions.accept_invitation(token=token, password=PASSWORD)
    with pytest.raises(Conflict, match="no longer good"):
        actions.accept_invitation(token=token, password=PASSWORD)
    answer = client.get(f"/invitation/{token}/")
    assert answer.status_code == 404
    assert "no longer good" in answer.content.decode()


def test_a_link_ends_after_seven_days(cast: Cast) -> None:
    _, token = invite(cast)
    late = timezone.now() + timedelta(days=7, seconds=1)
    with pytest.raises(Conflict, match="no longer good"):
        actions.accept_invitation(token=token, password=PASSWORD, at=late)
    assert not Person.objects.filter(email="nora@example.com").exists()


def test_a_second_invitation_withdraws_the_first(cast: Cast) -> None:
    _, first = invite(cast)
    _, second = invite(cast)
    with pytest.raises(Conflict):
        actions.accept_invitation(token=first, password=PASSWORD)
    assert actions.accept_invitation(token=second, password=PASSWORD).name == "Nora New"


def test_a_withdrawn_invitation_lets_nobody_in(cast: Cast, client: Client) -> None:
    invitation, token = invite(cast)
    client.force_login(cast.admin)
    assert "Nora New" in client.get("/people/").content.decode()
    client.post(f"/people/invitations/{invitation.pk}/withdraw/")
    assert client.post(f"/people/invitations/{invitation.pk}/withdraw/").status_code == 404
    with pytest.raises(Conflict):
        actions.accept_invitation(token=token, password=PASSWORD)


@pytest.mark.parametrize(
    ("password", "why"),
    [
        ("short", "at least 12 characters"),
        ("123456789012345", "entirely numeric"),
        ("nora@example.com", "too similar"),
        ("q1w2e3r4t5y6", "too common"),
    ],
)
def test_a_weak_password_is_refused_in_words_and_the_link_stays_good(
    cast: Cast, client: Client, password: str, why: str
) -> None:
    _, token = invite(cast)
    answer = client.post(f"/invitation/{token}/", {"password": password, "again": password})
    assert answer.status_code == 422
    assert why in answer.content.decode()
    assert actions.accept_invitation(token=token, password=PASSWORD).is_active


def test_passwords_that_differ_are_refused(cast: Cast, client: Client) -> None:
    _, token = invite(cast)
    answer = client.post(f"/invitation/{token}/", {"password": PASSWORD, "again": PASSWORD + "x"})
    assert (answer.status_code, "The two passwords differ." in answer.content.decode()) == (422, True)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"email": "no address"}, "email"),
        ({"email": "Ines@Example.com"}, "email"),
        ({"name": " "}, "name"),
        ({"name": "x" * 121}, "name"),
        ({"name": "two\nlines"}, "name"),
        ({"name": "null\x00"}, "name"),
        ({"role": "emperor"}, "role"),
        ({"role": Role.CLIENT}, "role"),
    ],
)
def test_a_wrong_invitation_names_its_field_and_leaves_nothing(cast: Cast, change: dict[str, str], field: str) -> None:
    with pytest.raises(Refused) as refusal:
        invite(cast, **change)
    assert [fault.field for fault in refusal.value.faults] == [field]
    assert not Invitation.objects.exists()
    assert not Letter.objects.exists()


def test_the_invite_page_keeps_what_was_typed_and_says_what_is_wrong(cast: Cast, client: Client) -> None:
    client.force_login(cast.admin)
    typed = {"name": "Nora New", "email": cast.ines.email, "organisation": str(cast.company.pk), "role": "inspector"}
    answer = client.post("/people/invite/", typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "already has a place here" in page
    assert 'value="Nora New"' in page
    assert client.post("/people/invite/", {**typed, "email": "nora@example.com"}).status_code == 302
    assert Invitation.objects.get().email == "nora@example.com"


def test_roles_suit_organisations(cast: Cast) -> None:
    with pytest.raises(Refused, match="Client is a role for people of an organisation of the kind client"):
        actions.give_role(cast.admin, person=cast.ines, role=Role.CLIENT)
    with pytest.raises(Refused, match="inspection company"):
        actions.give_role(cast.admin, person=cast.clara, role=Role.INSPECTOR)


def test_a_role_is_given_and_ended_and_its_history_stays(cast: Cast, client: Client) -> None:
    client.force_login(cast.admin)
    page = f"/people/{cast.ines.pk}/"
    assert client.post(f"{page}roles/", {"role": "quality_manager"}).status_code == 302
    assert Person.objects.get(pk=cast.ines.pk).roles == {"inspector", "quality_manager"}
    again = client.post(f"{page}roles/", {"role": "quality_manager"})
    assert (again.status_code, "already is quality manager" in again.content.decode()) == (422, True)
    assert client.post(f"{page}roles/quality_manager/end/").status_code == 302
    assert client.post(f"{page}roles/quality_manager/end/").status_code == 409
    assert Person.objects.get(pk=cast.ines.pk).roles == {"inspector"}
    assert RoleGrant.objects.filter(person=cast.ines, role="quality_manager", ended_at__isnull=False).exists()
    verbs = JournalEntry.objects.filter(object_id=str(cast.ines.pk)).values_list("verb", flat=True)
    assert list(verbs.order_by("pk")) == ["role.given", "role.ended"]


def test_a_quality_manager_gives_the_roles_of_the_field_but_not_the_high_ones(cast: Cast) -> None:
    actions.invite(cast.quinn, email="a@example.com", name="A", organisation=cast.owner, role=Role.CLIENT)
    for role in (Role.ADMINISTRATOR, Role.QUALITY_MANAGER):
        with pytest.raises(NotAllowed, match="administrator"):
            actions.give_role(cast.quinn, person=cast.ines, role=role)
    with pytest.raises(NotAllowed):
        actions.deactivate(cast.quinn, person=cast.ines)


def test_the_last_administrator_stays(cast: Cast) -> None:
    with pytest.raises(Refused, match="only administrator"):
        actions.end_role(cast.admin, person=cast.admin, role=Role.ADMINISTRATOR)
    actions.give_role(cast.admin, person=cast.quinn, role=Role.ADMINISTRATOR)
    actions.deactivate(cast.quinn, person=cast.admin)
    with pytest.raises(Refused, match="only administrator"):
        actions.end_role(cast.quinn, person=cast.quinn, role=Role.ADMINISTRATOR)


def test_closed_access_ends_session_roles_and_tokens_at_once(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)
    _, text = actions.make_token(cast.ines, name="laptop", days=5)
    assert client.get("/me/").status_code == 200
    administrator = Client()
    administrator.force_login(cast.admin)
    administrator.post(f"/people/{cast.ines.pk}/close/")
    assert client.get("/me/")["Location"].startswith("/sign-in/")
    assert Client().get("/api/me/", headers={"Authorization": f"Bearer {text}"}).status_code == 401
    assert not Client().login(login=cast.ines.email, password=PASSWORD)
    assert Person.objects.get(pk=cast.ines.pk).roles == frozenset()
    assert not ApiToken.objects.exists()
    with pytest.raises(Conflict):
        actions.deactivate(cast.admin, person=cast.ines)


def test_somebody_who_left_comes_back_by_a_new_invitation(cast: Cast) -> None:
    actions.deactivate(cast.admin, person=cast.ines)
    _, token = invite(cast, email=cast.ines.email, name="Ines Inspector", role=Role.INSPECTOR)
    back = actions.accept_invitation(token=token, password="another good passphrase")
    assert back.pk == cast.ines.pk
    assert Person.objects.get(pk=back.pk).roles == {"inspector"}
    assert back.check_password("another good passphrase")


def test_nobody_closes_their_own_access(cast: Cast) -> None:
    with pytest.raises(Refused, match="their own access"):
        actions.deactivate(cast.admin, person=cast.admin)


def test_an_organisation_is_added_once(cast: Cast, client: Client) -> None:
    client.force_login(cast.admin)
    sent = {"name": "Third Owner", "kind": "client"}
    assert client.post("/people/organisations/new/", sent).status_code == 302
    again = client.post("/people/organisations/new/", {**sent, "name": "third owner"})
    assert (again.status_code, "already an organisation" in again.content.decode()) == (422, True)
    with pytest.raises(Refused, match="One inspection company"):
        actions.add_organisation(cast.admin, name="Second Company", kind=Organisation.Kind.COMPANY)


def test_a_qualification_is_recorded_and_shown_to_its_holder(cast: Cast, client: Client) -> None:
    client.force_login(cast.quinn)
    sent = {"scheme": str(scheme().pk), "level": "2", "number": "CI-7", "issued": "2025-02-01"}
    page = f"/people/{cast.ines.pk}/qualifications/"
    wrong = client.post(page, {**sent, "expires": "2025-01-31"})
    assert (wrong.status_code, "after the day it was issued" in wrong.content.decode()) == (422, True)
    assert client.post(page, {**sent, "expires": "2028-02-01"}).status_code == 302
    client.force_login(cast.ines)
    assert "CI-7" in client.get("/me/").content.decode()


def test_the_people_page_asks_as_much_of_the_database_for_many_as_for_few(cast: Cast, client: Client) -> None:
    client.force_login(cast.admin)
    counts = []
    for round_ in range(2):
        for number in range(20 * round_):
            someone = Person.objects.create(
                name=f"P{number}", email=f"p{number}@example.com", organisation=cast.company
            )
            RoleGrant.objects.create(person=someone, role=Role.INSPECTOR)
        with CaptureQueriesContext(connection) as asked:
            client.get("/people/")
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_a_stranger_to_people_is_refused_with_a_sentence(cast: Cast, client: Client) -> None:
    for stranger in (cast.ines, cast.clara, cast.audrey):
        client.force_login(stranger)
        answer = client.get("/people/")
        assert answer.status_code == 403
        assert "Only the role of administrator or quality manager may manage people." in answer.content.decode()
        with pytest.raises(NotAllowed):
            actions.invite(stranger, email="x@example.com", name="X", organisation=cast.company, role=Role.INSPECTOR)
