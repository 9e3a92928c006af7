"""A photo that comes in parts by the API: kept for its sender alone, by its digest, until all of it is there."""

from __future__ import annotations

import hashlib
from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest
from django.test import Client
from django.utils import timezone

from accounts import vault
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import NotAllowed
from inspection.photos import parts
from inspection.photos.models import Photo, PhotoPart
from reports.tasks import clear_leftovers
from tests.cast import Cast
from tests.photos.test_photos import photo_bytes, record, signed_in

pytestmark = pytest.mark.django_db


def came(client: Client, digest: str) -> Any:
    return client.get(f"/api/photos/parts/{digest}/").json()["came"]


def send(client: Client, digest: str, begins: Any, content: bytes) -> Any:
    return client.put(f"/api/photos/parts/{digest}/?from={begins}", content, content_type="application/octet-stream")


def told(of: UUID, digest: str) -> dict[str, Any]:
    return {"id": str(new_id()), "of": "record", "thing": str(of), "digest": digest, "name": "a.jpg", "caption": "rust"}


def test_a_photo_is_kept_once_all_of_it_came_in_parts_and_nobody_else_hears_of_it(cast: Cast) -> None:
    of, content = record(cast), photo_bytes(size=(640, 480))
    digest, third = hashlib.sha256(content).hexdigest(), len(content) // 3
    client, other = signed_in(cast.ines), signed_in(cast.quinn)
    assert came(client, digest) == 0
    assert send(client, digest, 0, content[:third]).json() == {"digest": digest, "came": third, "most": 2**20}
    # Half of a part came before the link broke: it goes on from there, and what is sent again changes nothing.
    assert send(client, digest, third, content[third : third + 100]).json()["came"] == third + 100
    assert send(client, digest, 0, content[:third]).json()["came"] == third + 100
    for begins in (third, third + 200):
        assert send(client, digest, begins, content[third:]).status_code == 409, "a part follows on what is there"
    assert (came(client, digest), came(other, digest)) == (third + 100, 0)
    sent = told(of.pk, digest)
    early = other.post("/api/photos/", sent, content_type="application/json")
    assert (early.status_code, early.json()["errors"][0]["field"]) == (422, "digest"), "of the other nothing came"

    assert send(client, digest, third + 100, content[third + 100 :]).json()["came"] == len(content)
    answers = [client.post("/api/photos/", sent, content_type="application/json") for _ in range(2)]
    assert [answer.status_code for answer in answers] == [201, 200], "sent again after a lost answer it is there once"
    assert {answer.json()["digest"] for answer in answers} == {digest}
    photo = Photo.objects.get()
    assert (photo.record_id, photo.by, photo.file_name, photo.caption) == (of.pk, cast.ines, "a.jpg", "rust")
    assert vault.content_of(photo.file) == content
    assert not PhotoPart.objects.exists()
    # All of it is there already for whoever sent it, and for nobody else.
    assert (came(client, digest), came(other, digest)) == (len(content), 0)
    assert client.post("/api/photos/", told(of.pk, digest), content_type="application/json").status_code == 201


def test_what_is_not_of_its_digest_too_much_or_given_up_is_thrown_away(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    of, content = record(cast), photo_bytes()
    client, digest = signed_in(cast.ines), hashlib.sha256(content).hexdigest()
    send(client, digest, 0, b"other bytes")
    wrong = client.post("/api/photos/", told(of.pk, digest), content_type="application/json")
    assert "were thrown away" in wrong.json()["errors"][0]["message"]
    assert came(client, digest) == 0
    for begins, part, status in (("", b"x", 422), ("-1", b"x", 422), (0, b"", 422), (0, b"x" * (2**20 + 1), 422)):
        assert send(client, digest, begins, part).status_code == status, begins
    none = client.get("/api/photos/parts/ABC/")
    assert (none.status_code, none["Content-Type"]) == (404, "application/problem+json"), (
        "as an older office says it too"
    )
    monkeypatch.setattr(parts, "MOST_BYTES", 20)
    assert send(client, digest, 0, b"x" * 21).status_code == 422

    # Of one person no more than so much is under way: what rested longest goes, and never what is just coming.
    monkeypatch.setattr(parts, "MOST_UNDER_WAY", 25)
    now, names = timezone.now(), [letter * 64 for letter in "abc"]
    for place, name in enumerate(names):
        parts.add_part(cast.ines, digest=name, begins=0, content=b"x" * 10, at=now + timedelta(minutes=place))
    parts.add_part(cast.quinn, digest=names[0], begins=0, content=b"x" * 10, at=now - timedelta(days=8))
    assert [parts.came_of(cast.ines, name) for name in names] == [0, 10, 10]
    clear_leftovers()
    assert [parts.came_of(cast.quinn, names[0]), parts.came_of(cast.ines, names[1])] == [0, 10]
    # Nor in more parts than so many, however small: those of one photo are joined, and of others the oldest go.
    monkeypatch.setattr(parts, "MOST_PARTS", 2)
    monkeypatch.setattr(parts, "MOST_OF_ALL", 3)
    for place, name in enumerate(("d" * 64, hashlib.sha256(b"1234").hexdigest())):
        for begins in range(4):
            content = b"1234"[begins : begins + 1]
            parts.add_part(cast.ines, digest=name, begins=begins, content=content, at=now + timedelta(hours=place))
    assert [parts.came_of(cast.ines, each) for each in ("d" * 64, name)] == [0, 4]
    assert [bytes(row.content) for row in PhotoPart.objects.filter(by=cast.ines, digest=name)] == [b"123", b"4"]
    with pytest.raises(NotAllowed):
        parts.add_part(cast.audrey, digest=digest, begins=0, content=b"x")
