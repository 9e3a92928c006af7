"""Photos: those in sight, one, what is done with it, and the API."""

from __future__ import annotations

from typing import Any

from tests.sight.rows import CLIENT, CONTRACTOR, EVERYBODY, INSPECTOR, MANAGER, Row, pk_of
from tests.sight.world import Place

# One that is shown to the other parties, of a nonconformance that all of them see.
PHOTO: dict[str, Any] = {"args": pk_of("photo"), "scoped": True}
SEEN = PHOTO | {"allowed": EVERYBODY}
KEPT = PHOTO | {"allowed": (INSPECTOR, MANAGER)}
ASKED = PHOTO | {"allowed": (MANAGER,)}
# One of a record, not shown to anybody else: to the client and the contractor there is none.
HIDDEN: dict[str, Any] = {
    "args": pk_of("photo_hidden"), "scoped": True, "allowed": EVERYBODY, "but": {CLIENT: 404, CONTRACTOR: 404},
}  # fmt: skip
SENDERS = (INSPECTOR, MANAGER, CLIENT, CONTRACTOR)
SENT = {"allowed": SENDERS, "scoped": True}
WHY = {"data": lambda place: {"reason": "taken of another plate"}}


def of_nonconformance(place: Place) -> dict[str, Any]:
    return {"subject": "nonconformance", "pk": place.things["nonconformance"].pk}


def drawn(place: Place) -> dict[str, Any]:
    return {"after": 1, "shapes": [{"shape": "text", "from": [0.1, 0.2], "text": f"{place.mark} again"}]}


def sent(place: Place) -> dict[str, Any]:
    """Without the file, which this table cannot send."""
    return {"id": "018f0000-0000-7000-8000-0000000000aa", "of": "nonconformance",
            "thing": str(place.things["nonconformance"].pk)}  # fmt: skip


ROWS = [
    Row("photo_list", allowed=EVERYBODY),
    Row("photo", **SEEN),
    Row("photo", **HIDDEN),
    Row("photo_page", **SEEN),
    Row("photo_page", **HIDDEN),
    Row("photo_small", **SEEN),
    Row("photo_new", args=of_nonconformance, **SENT),
    Row("photo_new", "POST", args=of_nonconformance, **SENT),
    Row("photo_change", "POST", **KEPT, data=lambda place: {"caption": "Runs", "shown": "on"}),
    Row("photo_mark", **KEPT),
    Row("photo_mark", "POST", **KEPT),
    Row("photo_layer_again", "POST", **KEPT | {"args": pk_of("photo_layer")}),
    Row("photo_withdraw", **KEPT),
    Row("photo_withdraw", "POST", **KEPT, **WHY),
    Row("photo_restore", **KEPT),
    Row("photo_restore", "POST", **KEPT, **WHY),
    Row("photo_position", "POST", **ASKED),
    Row("photo_original", "POST", **ASKED),
    Row("api_photo_list", allowed=EVERYBODY),
    Row("api_photo_list", "POST", data=sent, allowed=(INSPECTOR, MANAGER, CLIENT, CONTRACTOR)),
    Row("api_photo", **SEEN),
    Row("api_photo", **HIDDEN),
    Row("api_photo_image", **SEEN),
    Row("api_photo_change", "POST", **KEPT, data=lambda place: {"caption": "Runs"}),
    Row("api_photo_withdraw", "POST", **KEPT, **WHY),
    Row("api_photo_restore", "POST", **KEPT, **WHY),
    Row("api_photo_mark", "POST", **KEPT, data=drawn),
    # By whoever may send one, of what they themselves sent: there is nothing of anybody else's behind it.
    Row("api_photo_parts", args=lambda place: {"digest": "0" * 64}, allowed=SENDERS),
    Row("api_photo_parts", "PUT", args=lambda place: {"digest": "0" * 64}, allowed=SENDERS),
]
