"""Words that a password may not hold: whoever guesses at one of this company's tries them first."""

from __future__ import annotations

import re
from collections.abc import Iterator

from django.conf import settings
from django.core.exceptions import ValidationError

from accounts.models import Organisation, Person

PLATFORM = "Stripecoat"
# Shorter ones stand in ordinary words by chance; one word out of an organisation's name sooner than the whole.
SHORTEST, SHORTEST_PART = 4, 6


class NoWordsOfTheHouse:
    """The platform's name, the company's, one's own and one's organisation's; for the company's people every party's.

    Nobody else is told by a refusal which other organisations there are.
    """

    def validate(self, password: str, user: Person | None = None) -> None:
        """Raise ValidationError for a password that holds such a word, however it is spaced or written."""
        squeezed = _squeezed(password)
        if any(word in squeezed for word in _words(user)):
            raise ValidationError(self.get_help_text(), code="password_holds_a_word_of_the_house")

    def get_help_text(self) -> str:
        return (
            "Leave out your own name and address and the names of the platform, the company and organisations: "
            "they are guessed first."
        )


def _words(user: Person | None) -> Iterator[str]:
    known, wholes = Organisation.objects.all(), [PLATFORM, settings.COMPANY_NAME]
    if isinstance(user, Person):
        wholes += [user.organisation.name, user.email.partition("@")[0], user.name, *user.name.split()]
        known = known if user.is_company else known.filter(kind=Organisation.Kind.COMPANY)
    else:
        known = known.filter(kind=Organisation.Kind.COMPANY)
    wholes += known.values_list("name", flat=True)
    parts = {part for name in wholes for part in re.split(r"[\W_]+", name) if len(part) >= SHORTEST_PART}
    yield from {word for text in (*wholes, *parts) if len(word := _squeezed(text)) >= SHORTEST}


def _squeezed(text: str) -> str:
    return re.sub(r"[\W_]+", "", text).casefold()
