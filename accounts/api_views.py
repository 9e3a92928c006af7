"""The API about oneself: who am I, and my tokens."""

from __future__ import annotations

from typing import Any, cast

from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_safe
from drf_spectacular.utils import extend_schema
from drf_spectacular.views import SpectacularAPIView
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from accounts import actions, queries, tidings
from accounts.api import NewestFirst, person_of
from accounts.models import ApiToken, Person
from accounts.serializers import MeOut, TokenIn, TokenMade, TokenOut, WaysSerializer
from accounts.stepping import shown_lately
from inspection.foundation.problems import CATALOGUE
from inspection.foundation.refusals import NotAllowed


class Schema(SpectacularAPIView):
    """The OpenAPI document, of which there is one version, in one language, whatever the query asks for."""

    @extend_schema(exclude=True)
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        answer: Response = self._get_schema_response(request)  # type: ignore[no-untyped-call]  # the library has no types
        return answer

    def _get_version_parameter(self, request: Request) -> None:
        return None


class Me(RetrieveAPIView):
    """Who the request is signed in as, and the roles held now."""

    serializer_class = MeOut

    def get_object(self) -> Person:
        return person_of(self.request)


class LetterChoices(GenericAPIView):
    """How one hears of what concerns one, a way for each kind of thing."""

    serializer_class = WaysSerializer

    @extend_schema(operation_id="me_letters_retrieve")
    def get(self, request: Request) -> Response:
        return Response(_as_sent(tidings.ways_of(person_of(request))))

    @extend_schema(operation_id="me_letters_update", request=WaysSerializer, responses=WaysSerializer)
    def put(self, request: Request) -> Response:
        """Choose; kinds left out stay as they are."""
        sent = self.get_serializer(data=request.data)
        sent.is_valid(raise_exception=True)
        ways = {name.replace("_", "-"): way for name, way in sent.validated_data.items()}
        return Response(_as_sent(tidings.choose(person_of(request), ways=ways)))


def _as_sent(ways: dict[str, str]) -> dict[str, str]:
    return {name.replace("-", "_"): way for name, way in ways.items()}


class OldTokensLast(NewestFirst):
    ordering = ("-created", "-pk")


class Tokens(ListAPIView):
    """One's own tokens that have not expired."""

    serializer_class = TokenOut
    pagination_class = OldTokensLast

    def get_queryset(self) -> QuerySet[ApiToken]:
        if getattr(self, "swagger_fake_view", False):
            empty: QuerySet[ApiToken] = ApiToken.objects.none()
            return empty
        return queries.live_tokens(person_of(self.request))

    @extend_schema(request=TokenIn, responses={201: TokenMade})
    def post(self, request: Request) -> Response:
        """Make a token. Its text is in this answer and nowhere else. A token cannot make another: sign in for that."""
        sent = TokenIn(data=request.data)
        sent.is_valid(raise_exception=True)
        if isinstance(request.auth, ApiToken):
            raise NotAllowed("A token cannot make tokens; make it on your own page, signed in.")
        if not shown_lately(cast("HttpRequest", request)):
            raise NotAllowed(f"Show first that it is still you: {reverse('account_reauthenticate')}")
        token, text = actions.make_token(person_of(request), **sent.validated_data)
        return Response(TokenMade(token, context={"text": text}).data, status=201)


class TokenOne(GenericAPIView):
    serializer_class = TokenOut

    @extend_schema(responses={204: None})
    def delete(self, request: Request, key: str) -> Response:
        """Revoke one's own token at once."""
        get_object_or_404(queries.live_tokens(person_of(request)), token_key=key)
        actions.revoke_token(person_of(request), token_key=key)
        return Response(status=204)


@require_safe
def problem_kind(request: HttpRequest, kind: str) -> HttpResponse:
    """The page that a problem's `type` leads to."""
    for status, found in CATALOGUE.items():
        if found.name == kind:
            return render(request, "accounts/problem.html", {"status_code": status, "kind": found})
    raise Http404
