"""Ways round the front door: filters, searches, pages of lists, digests, other people's drafts and uploads.

Each door is first shown to lead somewhere, by who may walk through it, and then to be shut for everybody else.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import transaction
from django.test import Client

from accounts.models import Person
from inspection.projects.models import Membership
from tests.fieldwork.samples import SAMPLES
from tests.sight.world import Place, World

pytestmark = pytest.mark.django_db
Query = Callable[[Place], dict[str, Any]]


def of_project(place: Place) -> dict[str, Any]:
    return {"project": place.site.project.pk}


def of_area(place: Place) -> dict[str, Any]:
    return {"area": place.site.area.pk}


def of_code(place: Place) -> dict[str, Any]:
    """A word that both projects' areas bear."""
    return {"words": "A1"}


# Lists that are narrowed by the reader, and what the narrowing asks for.
DOORS: list[tuple[str, Query, str]] = [
    ("/projects/", lambda place: {}, "code"),
    ("/thickness/", of_project, "code"),
    ("/climate/", of_project, "code"),
    ("/profile/", of_project, "code"),
    ("/pulloff/", of_project, "code"),
    ("/wetsponge/", of_project, "code"),
    ("/highvoltage/", of_project, "code"),
    ("/cuttest/", of_project, "code"),
    ("/cure/", of_project, "code"),
    ("/hardness/", of_project, "code"),
    ("/defects/", of_project, "code"),
    ("/wetfilm/", of_project, "code"),
    *((f"/{name}/", of_project, "code") for name in SAMPLES),
    ("/records/", of_project, "code"),
    ("/hold-points/", of_project, "mark"),
    ("/hold-points/", of_code, "mark"),
    ("/nonconformances/", of_project, "mark"),
    ("/rework/", of_project, "mark"),
    ("/photos/", of_project, "mark"),
    ("/reports/", of_project, "code"),
    ("/journal/", of_project, "code"),
    ("/trace/", of_code, "code"),
    ("/api/thickness/", of_project, "record"),
    ("/api/thickness/", of_area, "record"),
    ("/api/climate/", of_project, "climate"),
    ("/api/profile/", of_project, "profile"),
    ("/api/pulloff/", of_project, "pulloff"),
    ("/api/wetsponge/", of_project, "wetsponge"),
    ("/api/highvoltage/", of_project, "highvoltage"),
    ("/api/cuttest/", of_project, "cuttest"),
    ("/api/cure/", of_project, "cure"),
    ("/api/hardness/", of_project, "hardness"),
    ("/api/defects/", of_project, "defects"),
    ("/api/wetfilm/", of_project, "wetfilm"),
    *((f"/api/{name}/", of_project, name) for name in SAMPLES),
    ("/api/areas/", of_project, "area"),
    ("/api/systems/", of_project, "system"),
    ("/api/hold-points/", of_project, "point"),
    ("/api/nonconformances/", of_project, "nonconformance"),
    ("/api/rework/", of_project, "rework_item"),
    ("/api/photos/", of_project, "photo"),
    ("/api/drawings/", of_project, "drawing"),
    ("/api/drawing-notes/", of_project, "drawing_note"),
    ("/api/diary/", of_project, "diary_entry"),
    ("/api/day-signatures/", of_project, "day_signature"),
    ("/api/reports/", of_project, "report"),
]


def sign_of(place: Place, kind: str) -> str:
    """A word of the place that the list shows to those who see the place: its code, its mark or a thing's id."""
    words = {"code": place.site.project.code, "mark": place.mark}
    return words[kind] if kind in words else str(place.things[kind].pk)


def page(person: Person, address: str, query: dict[str, Any]) -> str:
    client = Client()
    client.force_login(person)
    answer = client.get(address, query)
    return answer.content.decode() if answer.status_code == 200 else ""


@pytest.mark.parametrize(("address", "query", "sign"), DOORS, ids=lambda value: value if isinstance(value, str) else "")
def test_a_narrowed_list_holds_nothing_foreign(address: str, query: Query, sign: str, world: World) -> None:
    cast, wanted = world.cast, sign_of(world.foreign, sign)
    assert wanted in page(cast.quinn, address, query(world.foreign))
    for person in (cast.ines, cast.clara, cast.audrey, world.returned):
        found = page(person, address, query(world.foreign))
        assert not [secret for secret in (wanted, *world.secrets_from(person)) if secret in found], person


def test_a_membership_that_ended_shuts_every_door_at_once(world: World) -> None:
    cast, site = world.cast, world.own.site
    addresses = [f"/projects/{site.project.pk}/", f"/thickness/{world.own.things['record'].pk}/", "/hold-points/"]
    with transaction.atomic():
        Membership.objects.filter(project=site.project, person=cast.clara).update(ended_at="2026-03-05T00:00Z")
        found = [page(cast.clara, address, {}) for address in addresses]
        transaction.set_rollback(True)
    # Her own name, in the menu, is no word of the project.
    assert world.own.mark not in "".join(found).replace(cast.clara.name, "")
    assert found[:2] == ["", ""]


def test_a_person_without_any_role_sees_nothing(world: World) -> None:
    cast = world.cast
    with transaction.atomic():
        cast.ines.grants.update(ended_at="2026-03-05T00:00Z")
        person = Person.objects.get(pk=cast.ines.pk)
        for address in (
            "/thickness/",
            "/projects/",
            "/instruments/",
            "/hold-points/",
            "/api/gauges/",
            "/api/thickness/",
        ):
            found = page(person, address, {})
            assert world.own.mark not in found
            assert world.own.tools not in found
        transaction.set_rollback(True)


def test_the_digest_of_a_foreign_report_is_not_confirmed(world: World) -> None:
    digest = world.foreign.things["issue"].file_id
    for person, known in ((world.cast.quinn, True), (world.cast.clara, False), (world.cast.audrey, False)):
        client = Client()
        client.force_login(person)
        answer = client.post("/reports/check/", {"digest": digest}).content.decode()
        assert (world.foreign.site.project.code in answer) is known


def test_a_foreign_area_or_gauge_cannot_be_slipped_into_ones_own_record(world: World) -> None:
    own, foreign, client = world.own, world.foreign, Client()
    client.force_login(world.cast.ines)
    sent = {
        "id": "01a20000-0000-7000-8000-000000000001", "project": str(own.site.project.pk),
        "area": str(own.site.area.pk), "coat": str(own.site.coats[0].pk), "gauge": str(own.things["gauge"].pk),
        "profile_way": "adjusted", "first_reading_at": "2026-03-04T07:00:00Z",
        "last_reading_at": "2026-03-04T07:00:00Z", "readings": [{"spot": 1, "value_um": 80}],
    }  # fmt: skip
    for change in (
        {"area": str(foreign.site.area.pk)}, {"coat": str(foreign.site.coats[0].pk)},
        {"project": str(foreign.site.project.pk)}, {"replaces": str(foreign.things["record"].pk)},
    ):  # fmt: skip
        answer = client.post("/api/thickness/", {**sent, **change}, "application/json")
        assert answer.status_code in {404, 422}, change
        assert foreign.mark not in answer.content.decode()
