from __future__ import annotations

from typing import Any

from rest_framework import serializers

from accounts import tidings
from accounts.actions import TOKEN_MOST_DAYS
from accounts.api import Strict
from accounts.models import ApiToken, Person, Role


class MeOut(serializers.ModelSerializer):
    organisation = serializers.CharField(source="organisation.name")
    roles = serializers.SerializerMethodField()

    class Meta:
        model = Person
        fields = ("id", "name", "email", "organisation", "roles")

    def get_roles(self, person: Person) -> list[Role]:
        return sorted(Role(role) for role in person.roles)


class TokenOut(serializers.ModelSerializer):
    key = serializers.CharField(source="token_key", help_text="How the token begins; it is listed and revoked by this")
    expires = serializers.DateTimeField(source="expiry")

    class Meta:
        model = ApiToken
        fields = ("key", "name", "created", "expires")


class TokenMade(TokenOut):
    token = serializers.SerializerMethodField(help_text="The token itself; it is shown this once")

    class Meta:
        model = ApiToken
        fields = ("key", "name", "created", "expires", "token")

    def get_token(self, token: ApiToken) -> str:
        text: Any = self.context["text"]
        return str(text)


class TokenIn(Strict):
    name = serializers.CharField(max_length=80, help_text="What will use it")
    days = serializers.IntegerField(min_value=1, max_value=TOKEN_MOST_DAYS, default=90)


class Because(Strict):
    reason = serializers.CharField(max_length=2_000)


class BecauseSigned(Because):
    password = serializers.CharField(max_length=200, trim_whitespace=False, help_text="Yours, as your signature")


class WaysSerializer(Strict):
    """A way for each kind of thing that is told; named as the kinds are, with underscores."""

    def get_fields(self) -> dict[str, serializers.Field]:
        return {
            kind.name.replace("-", "_"): serializers.ChoiceField(
                tidings.Way.choices, required=False, help_text=f"{kind.words}; without a choice: {kind.way}"
            )
            for kind in tidings.KINDS
        }
