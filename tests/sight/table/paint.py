"""Batches of paint and mixes; those of the world are the company's, so a contractor's people do not see them."""

from __future__ import annotations

from typing import Any

from inspection.foundation.ids import new_id
from tests.sight.rows import CONTRACTOR, EVERYBODY, INSPECTOR, MANAGER, Row, pk_of, project_pk
from tests.sight.world import Place

WHY = {"reason": "as the foreman wrote it"}
AT = "2026-03-04T05:30:00Z"
WORKERS = (MANAGER, INSPECTOR, CONTRACTOR)
ENTER: dict[str, Any] = {"args": project_pk, "scoped": True, "allowed": WORKERS}
OF_THE_COMPANY: dict[str, Any] = {"scoped": True, "allowed": WORKERS, "but": {CONTRACTOR: 404}}
SEEN: dict[str, Any] = {"scoped": True, "allowed": EVERYBODY, "but": {CONTRACTOR: 404}}
BATCH = {
    "product": "Paint", "component": "single", "number": "B-2", "received": "20", "unit": "l", "received_at": AT,
}  # fmt: skip
TABLE = {"rows": "product;component;number;received;unit;received_at\nPaint;single;B-9;5;l;2026-03-03\n"}


def forms(address: str, thing: str, **sent: str) -> list[Row]:
    """A form about a thing that whoever works for its party fills in: looked at, and sent."""
    common = {"args": pk_of(thing), **OF_THE_COMPANY}
    return [Row(address, **common), Row(address, "POST", data=lambda _: sent, **common)]


def deeds(thing: str, **rows: dict[str, Any]) -> list[Row]:
    return [
        Row(f"api_{name}", "POST", data=lambda _, sent=sent: sent, args=pk_of(thing), **OF_THE_COMPANY)
        for name, sent in rows.items()
    ]


def new_batch(place: Place) -> dict[str, Any]:
    return {"id": str(new_id()), "project": str(place.site.project.pk), **BATCH, "confirmed": True}


def mixed(place: Place) -> dict[str, Any]:
    part = {"batch": str(place.things["batch"].pk), "amount": 1}
    return {"mixed_at": AT, "stirred": "hand", "parts": [part], "reason": "Told late", "confirmed": True}


def new_mix(place: Place) -> dict[str, Any]:
    return {"id": str(new_id()), "project": str(place.site.project.pk), **mixed(place)}


def own_id(place: Place) -> dict[str, Any]:
    return {"id": str(new_id()), **BATCH}


STEP = {"id": str(new_id()), "why": "Frost in the store"}
LETTER = {"id": str(new_id()), "dated": "2026-03-03", "expires_on": "2099-01-01", "reference": "L-2"}
ROWS = [
    Row("batch_list", args=project_pk, scoped=True, allowed=EVERYBODY),
    Row("batch_new", **ENTER),
    Row("batch_new", "POST", data=own_id, **ENTER),
    Row("batch_upload", **ENTER),
    Row("batch_upload", "POST", data=lambda _: TABLE, **ENTER),
    Row("api_batch_table", "POST", data=lambda _: {"name": "b.csv", "confirmed": True, **TABLE}, **ENTER),
    Row("batch_labels", **ENTER),
    Row("batch", args=pk_of("batch"), **SEEN),
    Row("batch_file", args=pk_of("batch"), **SEEN),
    Row("batch_step_file", args=pk_of("batch_step"), **SEEN),
    *forms("batch_correct", "batch", **BATCH, **WHY),
    *forms("batch_extend", "batch", **LETTER),
    *forms("batch_quarantine", "batch", at="2026-03-04T06:00", **STEP),
    *forms("batch_release", "batch", at="2026-03-04T06:00", **STEP),
    *forms("batch_withdraw", "batch", **WHY),
    *forms("batch_restore", "batch", **WHY),
    Row("recall_batch", args=pk_of("batch"), scoped=True, allowed=(MANAGER,)),
    Row("recall_batch", "POST", data=lambda _: WHY, args=pk_of("batch"), scoped=True, allowed=(MANAGER,)),
    Row("recall_batch_reinstate", "POST", data=lambda _: WHY, args=pk_of("batch"), scoped=True, allowed=(MANAGER,)),
    Row("api_batch_touched", args=pk_of("batch"), scoped=True, allowed=(MANAGER,)),
    Row("api_batch_recall", "POST", data=lambda _: WHY, args=pk_of("batch"), scoped=True, allowed=(MANAGER,)),
    Row("api_batch_reinstate", "POST", data=lambda _: WHY, args=pk_of("batch"), scoped=True, allowed=(MANAGER,)),
    Row("api_recall_list", allowed=(MANAGER,)),
    Row("api_recall", args=pk_of("recall"), allowed=(MANAGER,)),
    *forms("batch_step_withdraw", "batch_step", **WHY),
    Row("mix_list", args=project_pk, scoped=True, allowed=EVERYBODY),
    Row("mix_new", **ENTER),
    Row("mix_new", "POST", data=lambda _: {"stirred": "hand", "mixed_at": "2026-03-04T06:00"}, **ENTER),
    Row("mix", args=pk_of("mix"), **SEEN),
    *forms("mix_correct", "mix", stirred="hand", mixed_at="2026-03-04T06:00", why="as written"),
    *forms("mix_use", "mix", used_from="2026-03-04T06:30"),
    *forms("mix_withdraw", "mix", **WHY),
    *forms("mix_restore", "mix", **WHY),
    Row("api_batch_list", allowed=EVERYBODY),
    Row("api_batch_list", "POST", data=new_batch, allowed=WORKERS),
    Row("api_batch", args=pk_of("batch"), **SEEN),
    *deeds(
        "batch", batch_correct={**BATCH, **WHY, "confirmed": True}, batch_extend=LETTER, batch_quarantine=STEP,
        batch_release=STEP, batch_withdraw=WHY, batch_restore=WHY,
    ),
    *deeds("batch_step", batch_step_withdraw=WHY),
    Row("api_mix_list", allowed=EVERYBODY),
    Row("api_mix_list", "POST", data=new_mix, allowed=WORKERS, but={CONTRACTOR: 404}),
    Row("api_mix", args=pk_of("mix"), **SEEN),
    Row("api_mix_correct", "POST", data=lambda place: {**mixed(place), "why": "as written"}, args=pk_of("mix"),
        **OF_THE_COMPANY),
    *deeds("mix", mix_use={"used_from": AT, "confirmed": True}, mix_withdraw=WHY, mix_restore=WHY),
]  # fmt: skip
