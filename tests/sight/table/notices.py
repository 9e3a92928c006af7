"""Notices of inspection: the pages, what is done with one, and the API."""

from __future__ import annotations

from typing import Any

from tests.sight.rows import CLIENT, CONTRACTOR, EVERYBODY, INSPECTOR, MANAGER, Row, pk_of, project_pk
from tests.sight.world import Place

# The company's own, which a contractor's people see where all of it lies in their scope; they change only their own.
NOTICE = {"args": pk_of("notice"), "scoped": True}
OF_PROJECT = {"args": project_pk, "scoped": True}
GIVERS = {"allowed": (INSPECTOR, MANAGER, CONTRACTOR)}
COMPANY = {"allowed": (INSPECTOR, MANAGER)}
# The notice is to the client; the quality manager acts for the company, which is no party of it.
ADDRESSED = {"allowed": (CLIENT,)}
WHY = {"data": lambda place: {"reason": "as agreed"}}
CHANGES = ("notice_move", "notice_withdraw", "notice_restore")


def moved(place: Place) -> dict[str, Any]:
    when = {"begins_at": "2050-03-04T10:00:00Z", "ends_at": "2050-03-04T11:00:00Z", "meeting_place": "Gate"}
    return {**when, "reason": "as agreed", "sequence": 0}


def given(place: Place) -> dict[str, Any]:
    when = {name: value for name, value in moved(place).items() if name not in {"reason", "sequence"}}
    return {"id": "018f0000-0000-7000-8000-000000000001", "points": [str(place.things["point_of_line"].pk)], **when}


ROWS = [
    Row("notice_list", allowed=EVERYBODY),
    Row("notice", allowed=EVERYBODY, **NOTICE),
    Row("notice_file", allowed=EVERYBODY, **NOTICE),
    Row("notice_new", **OF_PROJECT, **GIVERS),
    Row("notice_new", "POST", **OF_PROJECT, **GIVERS),
    *(Row(name, **NOTICE, **COMPANY) for name in CHANGES),
    *(Row(name, "POST", **NOTICE, **COMPANY, **WHY) for name in CHANGES),
    Row("notice_acknowledge", "POST", **NOTICE, **ADDRESSED),
    Row("notice_unacknowledge", **NOTICE, **ADDRESSED),
    Row("notice_unacknowledge", "POST", **NOTICE, **ADDRESSED, **WHY),
    Row("notice_outcome", **NOTICE, **COMPANY),
    Row("notice_outcome", "POST", **NOTICE, **COMPANY, data=lambda place: {"outcome": "held"}),
    Row("notice_reopen", **NOTICE, **COMPANY),
    Row("notice_reopen", "POST", **NOTICE, **COMPANY, **WHY),
    Row("api_notice_list", allowed=EVERYBODY),
    Row("api_notice", allowed=EVERYBODY, **NOTICE),
    Row("api_notice_give", "POST", **OF_PROJECT, **GIVERS, data=given),
    Row("api_notice_move", "POST", **NOTICE, **COMPANY, data=moved),
    Row("api_notice_withdraw", "POST", **NOTICE, **COMPANY, **WHY),
    Row("api_notice_restore", "POST", **NOTICE, **COMPANY, **WHY),
    Row("api_notice_acknowledge", "POST", **NOTICE, **ADDRESSED),
    Row("api_notice_unacknowledge", "POST", **NOTICE, **ADDRESSED, **WHY),
    Row("api_notice_outcome", "POST", **NOTICE, **COMPANY, data=lambda place: {"outcome": "held"}),
    Row("api_notice_reopen", "POST", **NOTICE, **COMPANY, **WHY),
]
