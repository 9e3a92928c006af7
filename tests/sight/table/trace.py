"""The trace of each kind of thing, and the journal."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from inspection.recall.actions import recall
from inspection.recall.models import AskedRecall
from tests.fieldwork.samples import SAMPLES
from tests.sight.rows import ADMIN, AUDITOR, INSPECTOR, MANAGER, Row, pk_of
from tests.sight.world import Place

READERS = (MANAGER, AUDITOR)
FOLLOWERS = (MANAGER, AUDITOR, INSPECTOR)
# Things of one project; and instruments and their papers, which the company's inspectors share.
OF_PROJECT = {
    "thickness": "record",
    "climate": "climate",
    "profile": "profile",
    "pulloff": "pulloff",
    "wetsponge": "wetsponge",
    "highvoltage": "highvoltage",
    "cuttest": "cuttest",
    "cure": "cure",
    "hardness": "hardness",
    "defects": "defects",
    "wetfilm": "wetfilm",
    **{name: name for name in SAMPLES},
    "batch": "batch",
    "mix": "mix",
    "lot": "lot",
    "holdpoint": "point",
    "area": "area",
    "nonconformance": "nonconformance",
    "report": "issue",
    "diaryentry": "diary_entry",
    "daysignature": "day_signature",
}
SHARED = {"gauge": "gauge", "standard": "shim", "certificate": "certificate", "verification": "verification"}


def thing(kind: str, name: str, **more: str) -> Callable[[Place], dict[str, Any]]:
    return lambda place: {"kind": kind, **place.pk(name), **more}


def traces(kind: str, name: str, **scope: Any) -> list[Row]:
    return [
        Row("trace_of", args=thing(kind, name), scoped=True, allowed=FOLLOWERS, **scope),
        Row("trace_drawing", args=thing(kind, name), scoped=True, allowed=FOLLOWERS, **scope),
        Row("trace_bundle", args=thing(kind, name), scoped=True, allowed=FOLLOWERS, **scope),
        Row(
            "trace_all", args=thing(kind, name, direction="up", other="thickness"), scoped=True, allowed=FOLLOWERS,
            **scope,
        ),
    ]  # fmt: skip


def a_recall(place: Place) -> dict[str, Any]:
    return {"pk": recall(place.cast.quinn, certificate=place.things["certificate"], reason=place.mark).pk}


def an_asked_recall(place: Place) -> dict[str, Any]:
    asked = AskedRecall.objects.create(
        certificate=place.things["certificate"], way="withdrawn", by=place.cast.quinn, reason=place.mark
    )
    return {"pk": asked.pk}


def why(place: Place) -> dict[str, Any]:
    return {"reason": "oven at fault"}


CERTIFICATE = {"args": pk_of("certificate"), "allowed": (MANAGER,)}

ROWS = [
    Row("recall", **CERTIFICATE),
    Row("recall", "POST", data=why, **CERTIFICATE),
    Row("recall_correct", **CERTIFICATE),
    Row("recall_correct", "POST", data=why, **CERTIFICATE),
    Row("recall_reinstate", "POST", data=why, **CERTIFICATE),
    Row("recall_asked", args=an_asked_recall, allowed=(MANAGER,)),
    Row("recalled", args=a_recall, allowed=(MANAGER,)),
    Row("trace", allowed=FOLLOWERS),
    *(row for kind, name in OF_PROJECT.items() for row in traces(kind, name)),
    *(
        row
        for kind, name in SHARED.items()
        for row in traces(kind, name, foreign_seen=(INSPECTOR,), names_others_to=(INSPECTOR,))
    ),
    Row(
        "gauge_lateness",
        args=pk_of("gauge"),
        scoped=True,
        allowed=(*FOLLOWERS, ADMIN),
        foreign_seen=(INSPECTOR,),
        names_others_to=(INSPECTOR,),
    ),
    Row("journal", allowed=READERS),
    Row("journal_entry", args=pk_of("entry"), scoped=True, allowed=READERS),
]
