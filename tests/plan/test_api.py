"""A plan by the API alone: revised, approved by each party, brought into force; the same actions as the pages."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from inspection.plan.models import PlanRevision
from inspection.projects.models import Membership, Party
from tests.cast import PASSWORD, Cast
from tests.plan.test_plans import agreed, draft

pytestmark = pytest.mark.django_db


def post(person: Person, name: str, pk: Any, sent: dict[str, Any] | None = None) -> Any:
    client = Client()
    client.force_login(person)
    return client.post(reverse(name, args=[pk]), sent or {}, "application/json")


def got(person: Person, pk: Any) -> dict[str, Any]:
    client = Client()
    client.force_login(person)
    found: dict[str, Any] = client.get(reverse("api_plan_revision", args=[pk])).json()
    return found


def test_a_revision_is_begun_asked_for_approved_withdrawn_and_brought_into_force(cast: Cast) -> None:
    first = agreed(cast, draft(cast))
    begun = post(cast.quinn, "api_plan_revise", first.pk, {"note": "Second"})
    assert (begun.status_code, begun.json()["number"], begun.json()["state"]) == (201, 2, "draft")
    pk = begun.json()["id"]
    client = Party.objects.get(project=cast.site.project, kind="client")
    assert post(cast.quinn, "api_plan_ask", pk, {"parties": [str(cast.foreign.project.pk)]}).status_code == 422
    assert post(cast.quinn, "api_plan_ask", pk, {"parties": [str(client.pk)]}).status_code == 200
    assert post(cast.quinn, "api_plan_force", pk).status_code == 422
    signed = {"password": PASSWORD, "digest": got(cast.clara, pk)["lines_digest"]}
    assert post(cast.ines, "api_plan_approve", pk, signed).status_code == 403
    assert post(cast.clara, "api_plan_approve", pk, {**signed, "digest": "0" * 64}).status_code == 409
    given = post(cast.clara, "api_plan_approve", pk, signed)
    assert (given.status_code, given.json()[0]["party"]) == (201, str(client.pk))
    back = post(cast.clara, "api_plan_withdraw", given.json()[0]["id"], {"reason": "Too soon"})
    assert back.json()["withdrawn_at"]
    assert post(cast.clara, "api_plan_approve", pk, signed).status_code == 201
    tomorrow = post(cast.quinn, "api_plan_force", pk, {"applies_from": "2999-01-01"})
    assert "lies ahead" in tomorrow.content.decode()
    assert post(cast.quinn, "api_plan_force", pk).json()["state"] == "in_force"
    assert PlanRevision.objects.get(pk=first.pk).state == "superseded"


def test_a_draft_is_thrown_away_and_taken_up_again(cast: Cast) -> None:
    revision = draft(cast)
    assert post(cast.quinn, "api_plan_throw_away", revision.pk, {"reason": "A mistake"}).json()["state"] == "discarded"
    assert post(cast.quinn, "api_plan_take_up", revision.pk, {"reason": "No mistake"}).json()["state"] == "draft"


def test_people_are_added_to_a_project_and_their_part_ends(cast: Cast) -> None:
    ended = Membership.objects.get(project=cast.site.project, person=cast.clara)
    assert post(cast.clara, "api_member_end", ended.pk).status_code == 403
    assert post(cast.quinn, "api_member_end", ended.pk).json()["ended_at"]
    assert post(cast.quinn, "api_member_end", ended.pk).status_code == 409
    sent = {"person": str(cast.clara.pk), "role": "client"}
    assert post(cast.quinn, "api_member_add", cast.foreign.project.pk, sent).status_code == 422
    again = post(cast.quinn, "api_member_add", cast.site.project.pk, sent)
    assert (again.status_code, again.json()["name"], again.json()["ended_at"]) == (201, cast.clara.name, None)
    assert post(cast.quinn, "api_member_add", cast.site.project.pk, {**sent, "role": "king"}).status_code == 422
