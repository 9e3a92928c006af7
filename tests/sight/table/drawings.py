"""Drawings: those of a project, one, its revisions and areas, notes on it, and the API."""

from __future__ import annotations

from typing import Any

from tests.cast import MORNING
from tests.sight.rows import CLIENT, CONTRACTOR, EVERYBODY, INSPECTOR, MANAGER, Row, pk_of, project_pk
from tests.sight.world import Place

DRAWING: dict[str, Any] = {"args": pk_of("drawing"), "scoped": True}
REVISION: dict[str, Any] = {"args": pk_of("drawing_revision"), "scoped": True}
NOTE: dict[str, Any] = {"args": pk_of("drawing_note"), "scoped": True}
OF_PROJECT: dict[str, Any] = {"args": project_pk, "scoped": True}
KEPT = {"allowed": (INSPECTOR, MANAGER)}
WRITTEN = {"allowed": (INSPECTOR, MANAGER, CLIENT, CONTRACTOR)}
# Not shown to the other parties: to them there is no such note.
HIDDEN: dict[str, Any] = {
    "args": pk_of("drawing_note_hidden"), "scoped": True, "allowed": EVERYBODY, "but": {CLIENT: 404, CONTRACTOR: 404},
}  # fmt: skip
WHY = {"data": lambda place: {"reason": "of another tank"}}
OWN_ID = "018f0000-0000-7000-8000-0000000000ab"


def area_on_it(place: Place) -> dict[str, Any]:
    return {"pk": place.things["drawing"].pk, "area": place.site.area.pk}


def sent(place: Place) -> dict[str, Any]:
    """Without the file, which this table cannot send."""
    return {"id": OWN_ID, "project": str(place.site.project.pk), "number": "D-9", "title": "Deck", "revision": "A"}


def note(place: Place) -> dict[str, Any]:
    return {"id": OWN_ID, "revision": str(place.things["drawing_revision"].pk), "text": "Rust", "x": 1, "y": 2,
            "at": MORNING.isoformat()}  # fmt: skip


def correction(place: Place) -> dict[str, Any]:
    return {"id": OWN_ID, "text": "Rust", "x": 1, "y": 2, "at": MORNING.isoformat(), "reason": "another place"}


def put_right(place: Place) -> dict[str, Any]:
    section = str(place.things["section"].pk)
    return {"number": "D-10", "title": "Deck", "revision": "B", "section": section, "reason": "misread"}


def areas(place: Place) -> dict[str, Any]:
    return {"areas": [{"area": str(place.site.area.pk), "x": 1, "y": 2}]}


ROWS = [
    Row("drawing_list", **OF_PROJECT, allowed=EVERYBODY),
    Row("drawing_new", **OF_PROJECT, **KEPT),
    Row("drawing_new", "POST", **OF_PROJECT, **KEPT, data=sent),
    Row("drawing", **DRAWING, allowed=EVERYBODY),
    Row("drawing_revise", **DRAWING, **KEPT),
    Row("drawing_revise", "POST", **DRAWING, **KEPT),
    Row("drawing_correct", **DRAWING, **KEPT),
    Row("drawing_correct", "POST", **DRAWING, **KEPT, data=put_right),
    Row("drawing_areas", **DRAWING, **KEPT),
    Row("drawing_areas", "POST", **DRAWING, **KEPT),
    Row("drawing_area_place", args=area_on_it, scoped=True, **KEPT),
    Row("drawing_area_place", "POST", args=area_on_it, scoped=True, **KEPT, data=lambda place: {"left": 1, "top": 2}),
    Row("drawing_places_fit", "POST", **DRAWING, **KEPT),
    Row("drawing_revision", **REVISION, allowed=EVERYBODY),
    Row("drawing_picture", **REVISION, allowed=EVERYBODY),
    Row("drawing_file", **REVISION, allowed=EVERYBODY),
    Row("drawing_revision_withdraw", **REVISION, **KEPT),
    Row("drawing_revision_withdraw", "POST", **REVISION, **KEPT, **WHY),
    Row("drawing_revision_restore", **REVISION, **KEPT),
    Row("drawing_revision_restore", "POST", **REVISION, **KEPT, **WHY),
    Row("drawing_note_new", **REVISION, **WRITTEN),
    Row("drawing_note_new", "POST", **REVISION, **WRITTEN),
    Row("drawing_note", **NOTE, allowed=EVERYBODY),
    Row("drawing_note", **HIDDEN),
    Row("drawing_note_correct", **NOTE, **KEPT),
    Row("drawing_note_correct", "POST", **NOTE, **KEPT),
    Row("drawing_note_show", "POST", **NOTE, **KEPT, data=lambda place: {"shown": "yes"}),
    Row("drawing_note_withdraw", **NOTE, **KEPT),
    Row("drawing_note_withdraw", "POST", **NOTE, **KEPT, **WHY),
    Row("drawing_note_restore", **NOTE, **KEPT),
    Row("drawing_note_restore", "POST", **NOTE, **KEPT, **WHY),
    Row("api_drawing_list", allowed=EVERYBODY),
    Row("api_drawing_list", "POST", data=sent, **KEPT),
    Row("api_drawing", **DRAWING, allowed=EVERYBODY),
    Row("api_drawing_revise", "POST", **DRAWING, **KEPT),
    Row("api_drawing_correct", "POST", **DRAWING, **KEPT, data=put_right),
    Row("api_drawing_areas", "POST", **DRAWING, **KEPT, data=areas),
    Row("api_drawing_image", **REVISION, allowed=EVERYBODY),
    Row("api_drawing_revision_withdraw", "POST", **REVISION, **KEPT, **WHY),
    Row("api_drawing_revision_restore", "POST", **REVISION, **KEPT, **WHY),
    Row("api_drawing_note_list", allowed=EVERYBODY),
    Row("api_drawing_note_list", "POST", data=note, **WRITTEN),
    Row("api_drawing_note", **NOTE, allowed=EVERYBODY),
    Row("api_drawing_note", **HIDDEN),
    Row("api_drawing_note_correct", "POST", **NOTE, **KEPT, data=correction),
    Row("api_drawing_note_show", "POST", **NOTE, **KEPT, data=lambda place: {"shown": True}),
    Row("api_drawing_note_withdraw", "POST", **NOTE, **KEPT, **WHY),
    Row("api_drawing_note_restore", "POST", **NOTE, **KEPT, **WHY),
]
