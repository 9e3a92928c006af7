"""Hold points and nonconformances."""

from __future__ import annotations

from typing import Any

from inspection.holdpoints.queries import evidence_of
from tests.cast import PASSWORD
from tests.sight.rows import CLIENT, INSPECTOR, MANAGER, Row, pk_of, project_pk
from tests.sight.world import Place

WORKERS = (INSPECTOR, MANAGER)
POINT = {"args": pk_of("point"), "scoped": True}
PLANNED = ("point_rename", "point_remove", "point_close", "point_reopen")
NONCONFORMANCE = {"args": pk_of("nonconformance"), "scoped": True}


def decision(place: Place) -> dict[str, Any]:
    """A whole decision, so that a person without the right is refused for that and not for a missing field."""
    return {"password": PASSWORD, "evidence": evidence_of(place.things["point"]).digest, "reason": "not clean"}


def signed(place: Place) -> dict[str, Any]:
    sent = decision(place)
    return {"password": PASSWORD, "evidence_digest": sent["evidence"]}


ROWS = [
    Row("board"),
    Row("point", **POINT),
    Row("point_release", "POST", allowed=(CLIENT,), data=decision, **POINT),
    Row("point_refuse", "POST", allowed=(CLIENT,), data=decision, **POINT),
    Row("point_present", "POST", allowed=WORKERS, data=lambda place: {"note": "cleaned again"}, **POINT),
    *(Row(name, allowed=(MANAGER,), **POINT) for name in PLANNED),
    *(Row(name, "POST", allowed=(MANAGER,), data=lambda place: {"reason": "twice"}, **POINT) for name in PLANNED),
    Row("points_plan", args=project_pk, scoped=True, allowed=(MANAGER,)),
    Row("points_plan", "POST", args=project_pk, scoped=True, allowed=(MANAGER,)),
    Row("nonconformance_list"),
    Row("nonconformance", **NONCONFORMANCE),
    Row("nonconformance_repair", "POST", allowed=WORKERS, data=lambda place: {"repair": "blasted"}, **NONCONFORMANCE),
    # One that no measurement raised is the quality manager's to close; the others close with a measurement.
    Row("nonconformance_close", "POST", allowed=(MANAGER,), **NONCONFORMANCE),
    Row("nonconformance_close", "POST", args=pk_of("failure"), scoped=True, allowed=WORKERS),
    Row("nonconformance_new", args=project_pk, scoped=True, allowed=WORKERS),
    Row("nonconformance_new", "POST", args=project_pk, scoped=True, allowed=WORKERS),
    Row("api_point_list"),
    Row("api_point", **POINT),
    Row("api_point_release", "POST", allowed=(CLIENT,), data=signed, **POINT),
    Row("api_point_refuse", "POST", allowed=(CLIENT,), data=lambda place: {**signed(place), "reason": "dust"}, **POINT),
    Row("api_nonconformance_list"),
    Row("api_nonconformance", **NONCONFORMANCE),
]
