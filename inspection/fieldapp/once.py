"""An act without an id of its own is done once, however often the phone sends it after a lost answer.

The header is `Idempotency-Key` (IETF draft-ietf-httpapi-idempotency-key-header).
"""

from __future__ import annotations

from collections.abc import Callable
from uuid import UUID

from django.db import IntegrityError, transaction
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils.crypto import salted_hmac

from accounts.models import Person
from inspection.fieldapp.models import DoneOnce

HEADER = "Idempotency-Key"
OTHER = "This key was used already, with other content. Nothing was changed."


class OnceOnly:
    """What is sent to the API with a key by somebody signed in is done, or was done before, or is left undone."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        key = request.headers.get(HEADER, "").strip('"')
        if not key or request.method != "POST" or not request.path_info.startswith("/api/"):
            return self.get_response(request)
        try:
            return self._once(request, UUID(key))
        except ValueError:
            return JsonResponse({"detail": f"{HEADER} is a UUID, such as one of version 7.", "errors": []}, status=400)

    def _once(self, request: HttpRequest, key: UUID) -> HttpResponse:
        person = request.user
        if not isinstance(person, Person):
            return self.get_response(request)
        # Keyed: some bodies hold the password of who signs, which a bare digest would let be guessed at in a copy.
        content = f"{request.path_info}\n".encode() + request.body
        digest = salted_hmac("fieldapp.once", content, algorithm="sha256").hexdigest()
        if before := self._before(person, key, digest):
            return before
        try:
            with transaction.atomic():
                response = self.get_response(request)
                if 200 <= response.status_code < 300:
                    DoneOnce.objects.create(person=person, key=key, digest=digest)
                    return response
                # What failed may be sent again and is then done once. What was refused kept nothing but what must stay
                # of a refusal, such as the count of wrong passwords.
                if response.status_code >= 500:
                    transaction.set_rollback(True)
            # The same came twice at once, and this one was refused because the other had done it.
            return self._before(person, key, digest) or response
        except IntegrityError:
            # The same came twice at once, and the other was done.
            if before := self._before(person, key, digest):
                return before
            raise

    def _before(self, person: Person, key: UUID, digest: str) -> HttpResponse | None:
        done = DoneOnce.objects.filter(person=person, key=key).first()
        if done is None:
            return None
        if done.digest != digest:
            return JsonResponse({"detail": OTHER, "errors": []}, status=409)
        return JsonResponse({"already": True, "at": done.at.isoformat()})
