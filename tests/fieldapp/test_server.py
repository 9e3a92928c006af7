"""What the server says of the field app: the worker's head, and who holds the phone."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from inspection.fieldapp import files
from tests.cast import PASSWORD, Cast

pytestmark = pytest.mark.django_db


def test_the_worker_names_every_file_by_its_digest_and_the_page_holds_nothing_of_anybody(client: Client) -> None:
    told = client.get(reverse("field-worker")).content.decode()
    head = {name: json.loads(value) for name, value in re.findall(r"^const ([A-Z]+) = (.*);$", told, re.MULTILINE)[:5]}
    static = Path(settings.BASE_DIR) / "static"
    for address, digest in head["FILES"].items():
        found = static / address.removeprefix(settings.STATIC_URL)
        assert base64.b64encode(hashlib.sha256(found.read_bytes()).digest()).decode() == digest
    # Every module that the app may import is among them, for nothing is fetched in the field.
    modules = {
        f"{settings.STATIC_URL}{path.relative_to(static).as_posix()}" for path in (static / "field").rglob("*.js")
    }
    assert modules <= set(head["FILES"])
    assert head["VERSION"] == files.app().version
    assert head["PAGE"] == files.page(version=head["VERSION"])
    assert "script-src 'self'" in head["POLICY"]


def test_signing_in_says_whose_the_phone_is_and_signing_out_that_theirs_is_locked(client: Client, cast: Cast) -> None:
    client.post(reverse("account_login"), {"login": cast.ines.email, "password": PASSWORD})
    assert client.cookies["field_person"].value == str(cast.ines.pk)
    who = client.get(reverse("api_field_who")).json()
    assert (who["person"], [one["code"] for one in who["projects"]]) == (str(cast.ines.pk), ["P-1"])
    client.post(reverse("account_logout"))
    assert client.cookies["field_signed_out"].value == str(cast.ines.pk)
    client.post(reverse("account_login"), {"login": cast.quinn.email, "password": PASSWORD})
    assert client.cookies["field_person"].value == str(cast.quinn.pk)
    client.post(reverse("account_logout"))
    assert set(client.cookies["field_signed_out"].value.split(".")) == {str(cast.ines.pk), str(cast.quinn.pk)}
