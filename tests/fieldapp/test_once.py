"""A key that makes an act be done once makes nothing else different: what must stay of a refusal stays."""

from __future__ import annotations

import hashlib
import json
from typing import Any
from uuid import UUID

import pytest
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.test import Client, RequestFactory

from accounts.models import Guesses, JournalEntry
from inspection.fieldapp.models import DoneOnce
from inspection.fieldapp.once import OnceOnly
from inspection.foundation.ids import new_id
from tests.cast import PASSWORD, Cast
from tests.holdpoints.scene import a_point

pytestmark = pytest.mark.django_db


def test_wrong_passwords_sent_with_a_key_are_counted_and_journalled_and_no_bare_digest_of_one_is_kept(
    client: Client, cast: Cast
) -> None:
    point = a_point(cast)
    client.force_login(cast.clara)

    def sign(password: str) -> Any:
        shown = client.get(f"/api/hold-points/{point.pk}/").json()["evidence"]["digest"]
        said = {"password": password, "evidence_digest": shown, "reason": "not ready"}
        return client.post(
            f"/api/hold-points/{point.pk}/refuse/", said, content_type="application/json",
            headers={"Idempotency-Key": str(new_id())},
        )  # fmt: skip

    answers = [sign(f"guess {number}") for number in range(6)]
    assert {answer.status_code for answer in answers} == {422}
    assert "wrong too often" in answers[-1].content.decode(), "guessing is slowed down, key or none"
    assert "wrong too often" in sign(PASSWORD).content.decode()
    assert JournalEntry.objects.filter(verb="password.wrong").count() == 5

    Guesses.objects.all().delete()
    done = sign(PASSWORD)
    assert done.status_code in (200, 201), done.content
    sent = done.wsgi_request
    plain = hashlib.sha256(f"{sent.path_info}\n".encode() + sent.body).hexdigest()
    assert DoneOnce.objects.get().digest != plain, "a copy of the table would let the password be guessed at"


def test_the_later_of_two_at_once_learns_that_it_is_done_and_not_that_it_was_refused(cast: Cast) -> None:
    """The other's deed is seen by the action, which refuses, though its key was not there yet when this one came."""
    key, said = new_id(), json.dumps({"attended": True})
    calls: list[str] = []

    def office(request: HttpRequest) -> HttpResponse:
        calls.append(request.path_info)
        if len(calls) == 1:
            assert send().status_code == 200, "the other, which was done meanwhile"
            return JsonResponse({"detail": "It is done already."}, status=409)
        return JsonResponse({"id": "1"})

    def send() -> HttpResponse:
        request = RequestFactory().post("/api/x/", said, content_type="application/json")
        request.META["HTTP_IDEMPOTENCY_KEY"] = str(key)
        request.user = cast.ines
        return OnceOnly(office)(request)

    answer = send()
    assert (answer.status_code, json.loads(answer.content).get("already")) == (200, True)
    assert DoneOnce.objects.get().key == UUID(str(key))
