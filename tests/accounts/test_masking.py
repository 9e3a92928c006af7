"""What reaches a log: no key that stands in an address, and of each refusal a line with who, what and why."""

from __future__ import annotations

import logging
from typing import Any

import pytest
import structlog
from django.conf import settings
from django.test import Client

from accounts.masking import MaskedRecords, is_secret, masked
from tests.cast import Cast


@pytest.mark.parametrize("room", ["invitation", "password", "calendar", "Invitation"])
@pytest.mark.parametrize("line", [
    "GET /{room}/s3cret/ 200", "/{room}/s3cret.ics?x=1", "Referer: https://site.example/{room}/s3cret",
    "next=%2F{room}%2Fs3cret%2F", '{{"path": "/{room}/s3cret"}}',
])  # fmt: skip
def test_the_key_in_an_address_is_left_out_of_a_line_and_its_room_stays(line: str, room: str) -> None:
    said = masked(line.format(room=room))
    assert "s3cret" not in said
    assert f"{room}" in said
    assert "[left out]" in said


def test_other_addresses_are_logged_as_they_are() -> None:
    for line in ("GET /projects/1/ 200", "/people/invitations/7/withdraw/", "/invitation/", "/me/password/"):
        assert masked(line) == line
    assert is_secret("/invitation/s3cret/")
    assert not is_secret("/projects/invitation/s3cret/")


def test_every_line_of_the_site_passes_through_the_mask_with_its_traceback() -> None:
    logging_set: Any = settings.LOGGING
    formatter = logging_set["formatters"]["lines"]
    lines = structlog.stdlib.ProcessorFormatter(
        processors=formatter["processors"], foreign_pre_chain=formatter["foreign_pre_chain"]
    )
    try:
        raise LookupError("/password/1f-s3cret/ is no more")
    except LookupError as fault:
        told = (type(fault), fault, fault.__traceback__)
    record = logging.LogRecord("django.request", logging.ERROR, "", 1, "at %s", ("/calendar/s3cret.ics",), told)
    said = lines.format(record)
    assert "/calendar/[left out]" in said
    assert "/password/[left out]" in said
    assert "s3cret" not in said


def test_a_logger_with_a_handler_of_its_own_is_masked_too() -> None:
    record = logging.LogRecord("gunicorn.error", logging.ERROR, "", 1, "no %s", ("/invitation/s3cret/",), None)
    assert MaskedRecords().filter(record)
    assert record.getMessage() == "no /invitation/[left out]/"


# --- refusals ---------------------------------------------------------------------------------------------------------
def refusals(caplog: pytest.LogCaptureFixture) -> list[dict[str, Any]]:
    told = [record.msg for record in caplog.records if isinstance(record.msg, dict)]
    return [line for line in told if line.get("event") == "refused"]


def test_refused_deeds_are_logged_with_who_what_and_why_and_without_what_was_sent(
    cast: Cast, caplog: pytest.LogCaptureFixture, settings: Any
) -> None:
    carl, project = Client(), cast.site.project
    carl.force_login(cast.carl)
    carl.get(f"/projects/{project.pk}/?token=s3cret")
    carl.get("/people/")
    carl.get("/no/such/page/")
    Client().get("/api/me/", headers={"Authorization": "Bearer s3cret"})
    settings.API_LIMITS = {"read": {300: 0}}
    carl.get("/api/me/")
    told = [(line["status"], line["route"], line["thing"], line["person"]) for line in refusals(caplog)]
    who = str(cast.carl.pk)
    assert told == [
        (404, "project", str(project.pk), who), (403, "people", "", who), (401, "api_me", "", ""),
        (429, "api_me", "", who),
    ]  # fmt: skip
    assert "s3cret" not in str(refusals(caplog))
    assert {line["level"] for line in refusals(caplog)} == {"warning"}


def test_failed_stepping_up_and_too_many_tries_are_logged_without_the_password(
    cast: Cast, caplog: pytest.LogCaptureFixture
) -> None:
    client = Client()
    client.force_login(cast.quinn)
    for _ in range(6):
        client.post("/me/again/", {"password": "wr0ng guess"})
    whys = [line["why"] for line in refusals(caplog)]
    assert whys == ["a wrong password again"] * 5 + ["too many tries"]
    assert "wr0ng" not in caplog.text
