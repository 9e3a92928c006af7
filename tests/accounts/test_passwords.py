"""What a password may not hold: the words that whoever guesses at this company tries first."""

from __future__ import annotations

import pytest
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from accounts.models import Person
from tests.cast import PASSWORD, Cast


def refused(password: str, person: Person | None) -> bool:
    try:
        validate_password(password, person)
    except ValidationError as fault:
        return any("they are guessed first" in message for message in fault.messages)
    return False


@pytest.mark.parametrize(
    "password", ["my STRIPECOAT 2026!", "the  company 4711 x", "t.h.e-company-9-gate", "Quality rain 4-gate"]
)
def test_words_of_platform_company_and_person_are_refused_however_they_are_written(cast: Cast, password: str) -> None:
    assert refused(password, cast.quinn)


def test_the_name_of_another_organisation_is_refused_to_the_company_and_told_to_nobody_else(cast: Cast) -> None:
    assert refused("gate 77 owner two x", cast.ines)
    assert not refused("gate 77 owner two x", cast.clara)
    assert refused("gate 77 owner one x", cast.clara)


def test_other_words_and_what_only_looks_near_are_taken(cast: Cast) -> None:
    for password in (PASSWORD, "a striped coat in rain", "four owners walked by"):
        assert not refused(password, cast.clara)
    assert not refused(PASSWORD, None)
    assert refused("stripecoat for ever 1", None)
