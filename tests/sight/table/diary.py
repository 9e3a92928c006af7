"""The diary: the company's own, read by its auditors; a client and a contractor read nothing of it here."""

from __future__ import annotations

from typing import Any

from inspection.foundation.ids import new_id
from tests.cast import DAY, PASSWORD
from tests.sight.rows import ADMIN, AUDITOR, CLIENT, INSPECTOR, MANAGER, Row, pk_of, project_pk
from tests.sight.world import Place

READERS = (INSPECTOR, MANAGER, AUDITOR, ADMIN)
WRITERS = (INSPECTOR, MANAGER)
WHY: dict[str, Any] = {"data": lambda place: {"reason": "entered for another site"}}


def of_day(place: Place) -> dict[str, Any]:
    return {"pk": place.site.project.pk, "day": DAY}


def a_narrative(place: Place) -> dict[str, Any]:
    return {**of_day(place), "kind": "narrative"}


def written(place: Place) -> dict[str, Any]:
    return {"id": new_id(), "text": f"{place.mark}: blasting went on", "kind": "narrative", "day": f"{DAY}"}


def on_page(place: Place) -> dict[str, Any]:
    return {"id": new_id(), "text": f"{place.mark}: blasting went on"}


def corrected(place: Place) -> dict[str, Any]:
    return {"id": new_id(), "text": f"{place.mark}: read again", "reason": "a slip"}


def signed(place: Place) -> dict[str, Any]:
    return {"id": new_id(), "day": f"{DAY}", "digest": "0" * 64, "password": PASSWORD}


# Of things of the diary the client is told that there are none; of pages of the project that they may not read them.
UNSEEN: dict[str, Any] = {"scoped": True, "but": {CLIENT: 404}}
ENTRY: dict[str, Any] = {"args": pk_of("diary_note"), **UNSEEN}
OTHERS_NOTE: dict[str, Any] = {"args": pk_of("diary_of_manager"), **UNSEEN}
SIGNATURE: dict[str, Any] = {"args": pk_of("day_signature"), **UNSEEN}
OF_DAY: dict[str, Any] = {"args": of_day, "scoped": True}
OF_PROJECT: dict[str, Any] = {"args": project_pk, "scoped": True}
# An entry of the inspector's, and so theirs and the quality manager's to change.
CHANGED: dict[str, Any] = ENTRY | {"allowed": WRITERS}
NOTE: dict[str, Any] = OTHERS_NOTE | {"allowed": WRITERS}
OWN_SIGNATURE: dict[str, Any] = SIGNATURE | {"allowed": (INSPECTOR,)}

ROWS = [
    Row("day_list", **OF_PROJECT, allowed=READERS),
    Row("day", **OF_DAY, allowed=READERS),
    Row("day_sign", "POST", **OF_DAY, allowed=WRITERS, data=signed),
    Row("diary_entry_new", args=a_narrative, scoped=True, allowed=WRITERS),
    Row("diary_entry_new", "POST", args=a_narrative, scoped=True, allowed=WRITERS, data=on_page),
    Row("diary_entry", **ENTRY, allowed=READERS),
    Row("diary_entry_correct", **CHANGED),
    Row("diary_entry_correct", "POST", **CHANGED, data=corrected),
    Row("diary_entry_withdraw", **CHANGED),
    Row("diary_entry_withdraw", "POST", **CHANGED, **WHY),
    Row("diary_entry_restore", **CHANGED),
    Row("diary_entry_restore", "POST", **CHANGED, **WHY),
    Row("note_read", "POST", **NOTE),
    Row("note_unread", "POST", **NOTE),
    Row("day_signature", **SIGNATURE, allowed=READERS),
    Row("day_signature_withdraw", **OWN_SIGNATURE),
    Row("day_signature_withdraw", "POST", **OWN_SIGNATURE, **WHY),
    Row("api_day", **OF_PROJECT, allowed=READERS, data=lambda place: {"day": f"{DAY}"}),
    Row("api_day_sign", "POST", **OF_PROJECT, allowed=WRITERS, data=signed),
    Row("api_diary_write", "POST", **OF_PROJECT, allowed=WRITERS, data=written),
    Row("api_diary_list", allowed=(*READERS, CLIENT)),
    Row("api_diary_entry", **ENTRY, allowed=READERS),
    Row("api_diary_correct", "POST", **CHANGED, data=corrected),
    Row("api_diary_withdraw", "POST", **CHANGED, **WHY),
    Row("api_diary_restore", "POST", **CHANGED, **WHY),
    Row("api_note_read", "POST", **NOTE, data=lambda place: {"read": True}),
    Row("api_day_signature_list", allowed=(*READERS, CLIENT)),
    Row("api_day_signature", **SIGNATURE, allowed=READERS),
    Row("api_day_signature_withdraw", "POST", **OWN_SIGNATURE, **WHY),
]
