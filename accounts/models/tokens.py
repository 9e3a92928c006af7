"""Tokens of the API. Only the digest is kept; the text is shown once, when it is made."""

from __future__ import annotations

from knox.models import AbstractAuthToken

from inspection.foundation.text_columns import ShortText


class ApiToken(AbstractAuthToken):
    """A named token of one person. `token_key` is its beginning, by which it is listed and revoked."""

    name = ShortText(max_length=80)

    def __str__(self) -> str:
        return self.name
