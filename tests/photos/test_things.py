"""Photos of checks and lots: on their page and on that of the version which replaces them, for whoever may see."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import Organisation, Role
from inspection.foundation.ids import new_id
from inspection.photos.models import Photo
from inspection.projects.models import Membership, Party
from inspection.works.models import Crew, Lot
from tests.cast import Cast, person
from tests.photos.test_photos import signed_in, upload
from tests.standing.scene import verify
from tests.works.painted import painted

pytestmark = pytest.mark.django_db


def send(client: Client, of: str, thing: Any) -> Any:
    told = {"id": str(new_id()), "of": of, "thing": str(thing.pk), "caption": f"The {of}"}
    return client.post("/api/photos/", told | {"file": upload()})


def test_photos_of_a_lot_and_a_check_stand_on_their_page_and_on_that_of_the_version_that_stands(cast: Cast) -> None:
    painted(cast)
    lot, check = Lot.objects.get(), verify(cast, "07:10")
    client = signed_in(cast.ines)
    answers = {"lot": send(client, "lot", lot), "verification": send(client, "verification", check)}
    later = {
        "lot": Lot.objects.create(
            project=lot.project, number=lot.number, version=2, replaces=lot, why="The tip", activity="coat",
            coat=lot.coat, method="brush", crew=lot.crew, begun_at=lot.begun_at, ended_at=lot.ended_at,
            entered_by=cast.ines, digest="0" * 64,
        ),
        "verification": verify(cast, "07:10", replaces=check, replacement_reason="The shim"),
    }  # fmt: skip
    for of, thing in (("lot", lot), ("verification", check)):
        assert (answers[of].status_code, answers[of].json()["thing"]) == (201, str(thing.pk))
        photo = Photo.objects.get(pk=answers[of].json()["id"])
        for version in (thing, later[of]):
            page = client.get(reverse(of, args=[version.pk])).content.decode()
            assert (f"The {of}" in page, "Add photos" in page) == (True, True)
        assert reverse(of, args=[thing.pk]) in client.get(reverse("photo", args=[photo.pk])).content.decode()
        # To the client it is shown by whoever says so; in a foreign project there is none of it.
        assert not Photo.objects.visible_to(cast.clara).filter(pk=photo.pk)
        assert signed_in(cast.igor).get(f"/api/photos/{photo.pk}/").status_code == 404
        assert send(signed_in(cast.igor), of, thing).status_code in (404, 422)
    # Inspectors share instruments: a check is seen beyond one's projects, and nothing is added to it there.
    page = signed_in(cast.igor).get(reverse("verification", args=[check.pk])).content.decode()
    assert ("The verification" in page, "Add photos" in page) == (False, False)


def test_a_painting_contractor_sends_photos_of_its_own_lots_and_sees_those_and_what_is_shown(cast: Cast) -> None:
    painted(cast)
    lot, check = Lot.objects.get(), verify(cast, "07:10")
    ours = [send(signed_in(cast.ines), "lot", lot), send(signed_in(cast.ines), "verification", check)]
    painters = Organisation.objects.create(name="Painters", kind=Organisation.Kind.CONTRACTOR)
    pia = person("Pia Painter", painters, Role.CONTRACTOR)
    lot.project.contractor = painters
    lot.project.save()
    Membership.objects.create(project=lot.project, person=pia, organisation=painters, role=Role.CONTRACTOR)
    assert send(signed_in(pia), "lot", lot).status_code in (404, 422), "of another's crew"
    party = Party.objects.get(project=lot.project, organisation=painters)
    Crew.objects.filter(pk=lot.crew_id).update(party=party)
    own = send(signed_in(pia), "lot", lot)
    assert own.status_code == 201
    assert send(signed_in(pia), "verification", check).status_code in (404, 422)
    assert [str(row.pk) for row in Photo.objects.visible_to(pia)] == [own.json()["id"]]
    Photo.objects.filter(pk__in=[row.json()["id"] for row in ours]).update(shown=True)
    assert {str(row.pk) for row in Photo.objects.visible_to(pia)} == {own.json()["id"], ours[0].json()["id"]}
