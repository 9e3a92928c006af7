"""The company's first person, from the command line and once."""

from __future__ import annotations

import sys
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from accounts.models import Organisation, Person
from tests.cast import PASSWORD, Cast

WHO = {"company": "Company", "email": "ada@example.com", "name": "Ada"}


def found(monkeypatch: pytest.MonkeyPatch, password: str = PASSWORD, **who: str) -> str:
    monkeypatch.setattr(sys, "stdin", StringIO(password + "\n"))
    out = StringIO()
    call_command("found_company", **{**WHO, **who}, stdout=out)
    return out.getvalue()


def test_the_founder_is_administrator_of_the_company(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    assert found(monkeypatch) == "Company stands; Ada signs in as ada@example.com.\n"
    ada = Person.objects.get()
    assert (ada.roles, ada.organisation.kind, ada.check_password(PASSWORD)) == ({"administrator"}, "company", True)


@pytest.mark.parametrize(
    ("wrong", "message"),
    [({"email": "no address"}, "email: "), ({"name": ""}, "name: "), ({"password": "short"}, "password: ")],
)
def test_what_is_wrong_is_named_and_nothing_stays(
    db: None, monkeypatch: pytest.MonkeyPatch, wrong: dict[str, str], message: str
) -> None:
    with pytest.raises(CommandError, match=message):
        found(monkeypatch, **wrong)
    assert not Organisation.objects.exists()


def test_a_company_that_stands_is_not_founded_again(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(CommandError, match="already stands"):
        found(monkeypatch)
