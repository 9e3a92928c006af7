"""Two people at the same moment, in real parallel transactions: one consistent state, one clear sentence."""

from __future__ import annotations

import pytest

from accounts import actions
from accounts.models import ApiToken, Organisation, Person, Role, RoleGrant
from inspection.foundation.refusals import Conflict, Refused
from tests import cast as casting
from tests.cast import PASSWORD, Cast
from tests.holdpoints.test_at_once import at_once

pytestmark = [pytest.mark.postgresql, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def cast(transactional_db: None) -> Cast:
    return casting.cast()


def test_a_link_followed_twice_at_once_makes_one_person(cast: Cast) -> None:
    _, token = actions.invite(
        cast.admin, email="nora@example.com", name="Nora", organisation=cast.company, role=Role.INSPECTOR
    )
    ends = at_once(*[lambda: actions.accept_invitation(token=token, password=PASSWORD)] * 3)
    assert [type(end) for end in ends if not isinstance(end, Conflict)] == [Person]
    assert all("no longer good" in str(end) for end in ends if isinstance(end, Conflict))
    assert Person.objects.filter(email="nora@example.com").count() == 1


def test_two_administrators_who_end_each_others_role_leave_one(cast: Cast) -> None:
    RoleGrant.objects.create(person=cast.quinn, role=Role.ADMINISTRATOR)
    one, other = (Person.objects.get(pk=person.pk) for person in (cast.admin, cast.quinn))
    ends = at_once(
        lambda: actions.end_role(one, person=other, role=Role.ADMINISTRATOR),
        lambda: actions.end_role(other, person=one, role=Role.ADMINISTRATOR),
    )
    assert RoleGrant.objects.filter(role=Role.ADMINISTRATOR, ended_at=None).count() == 1
    (refusal,) = [end for end in ends if isinstance(end, Refused)]
    assert "administrator" in str(refusal)


def test_the_same_organisation_and_the_same_role_are_added_once(cast: Cast) -> None:
    ends = at_once(*[lambda: actions.add_organisation(cast.admin, name="Third Owner", kind="client")] * 2)
    assert sorted(isinstance(end, Refused) for end in ends) == [False, True]
    assert Organisation.objects.filter(name="Third Owner").count() == 1
    ends = at_once(*[lambda: actions.give_role(cast.admin, person=cast.ines, role=Role.QUALITY_MANAGER)] * 2)
    assert sorted(isinstance(end, Refused) for end in ends) == [False, True]
    assert RoleGrant.objects.filter(person=cast.ines, role=Role.QUALITY_MANAGER, ended_at=None).count() == 1


def test_the_limit_of_tokens_holds_when_many_are_made_at_once(cast: Cast) -> None:
    for number in range(actions.TOKENS_A_PERSON - 1):
        actions.make_token(cast.ines, name=f"token {number}", days=1)
    ends = at_once(*[lambda name=name: actions.make_token(cast.ines, name=name, days=1) for name in "abc"])
    assert sum(isinstance(end, Refused) for end in ends) == 2
    assert ApiToken.objects.filter(user=cast.ines).count() == actions.TOKENS_A_PERSON
