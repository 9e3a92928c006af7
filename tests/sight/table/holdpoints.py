"""Hold points and nonconformances."""

from __future__ import annotations

from typing import Any

from inspection.foundation.ids import new_id
from inspection.holdpoints.evidence import evidence_of
from tests.cast import PASSWORD
from tests.sight.rows import CLIENT, CONTRACTOR, EVERYBODY, INSPECTOR, MANAGER, Row, pk_of, project_pk
from tests.sight.world import Place

PRESENTERS = (INSPECTOR, MANAGER, CONTRACTOR)
WORKERS = (INSPECTOR, MANAGER)
RAISERS = (*WORKERS, CLIENT, CONTRACTOR)
POINT = {"args": pk_of("point"), "scoped": True}
PLANNED = ("point_rename", "point_remove", "point_close", "point_reopen")
REWORK = {"args": pk_of("rework_item"), "scoped": True}
NONCONFORMANCE = {"args": pk_of("nonconformance"), "scoped": True}


def decision(place: Place) -> dict[str, Any]:
    """A whole decision, so that a person without the right is refused for that and not for a missing field."""
    return {"password": PASSWORD, "evidence": evidence_of(place.things["point"]).digest, "reason": "not clean"}


def commented(place: Place) -> dict[str, Any]:
    return {"id": str(new_id()), "kind": "comment", "text": "runs, not sags"}


def signed(place: Place) -> dict[str, Any]:
    sent = decision(place)
    return {"password": PASSWORD, "evidence_digest": sent["evidence"]}


def a_signature(place: Place) -> dict[str, Any]:
    return {"password": PASSWORD}


def signed_together(place: Place) -> dict[str, Any]:
    chosen = f"{place.things['point'].pk} {evidence_of(place.things['point']).digest}"
    return {"password": PASSWORD, "shown": [chosen], "points": [chosen]}


def waived_together(place: Place) -> dict[str, Any]:
    return {**signed_together(place), "outcome": "waived", "reason": "far away"}


def several(place: Place) -> dict[str, Any]:
    point = str(place.things["point"].pk)
    return {"deed": "present", "points": [point]}


def decided_together(place: Place) -> dict[str, Any]:
    shown = {"point": str(place.things["point"].pk), "evidence_digest": decision(place)["evidence"]}
    return {"outcome": "waived", "points": [shown], "password": PASSWORD, "reason": "far away"}


def attended(place: Place) -> dict[str, Any]:
    return {"party": place.site.project.parties.get(kind="client").pk, "attended": "yes"}


def applied_to(place: Place) -> dict[str, Any]:
    return {"areas": [str(place.site.area.pk)]}


def rework(place: Place) -> dict[str, Any]:
    return {"what": "blasted", "done_by": "the crew", "done_at": "2026-03-05T10:00"}


def rework_opened(place: Place) -> dict[str, Any]:
    return {"id": new_id(), "area": place.site.area.pk, "what": "misses", "place": "bracket 3"}


ROWS = [
    Row("board", allowed=EVERYBODY),
    Row("points_awaited", allowed=EVERYBODY),
    Row("points_awaited", "POST", allowed=(CLIENT,), data=waived_together),
    Row("point", allowed=EVERYBODY, **POINT),
    Row(
        "point_release",
        "POST",
        allowed=(CLIENT,),
        **POINT,
        data=lambda place: {**decision(place), "acceptance": "The open rework is outside the coated face."},
    ),
    Row("point_refuse", "POST", allowed=(CLIENT,), data=decision, **POINT),
    Row("point_waive", "POST", allowed=(CLIENT,), data=decision, **POINT),
    Row("point_attend", "POST", allowed=(*WORKERS, CLIENT), data=attended, **POINT),
    Row("points_matrix", args=project_pk, scoped=True, allowed=EVERYBODY),
    Row("plan_apply", args=project_pk, scoped=True, allowed=(MANAGER,)),
    Row("plan_apply", "POST", args=project_pk, scoped=True, allowed=(MANAGER,)),
    Row("point_present", "POST", allowed=WORKERS, data=lambda place: {"note": "cleaned again"}, **POINT),
    *(Row(name, allowed=(MANAGER,), **POINT) for name in PLANNED),
    *(Row(name, "POST", allowed=(MANAGER,), data=lambda place: {"reason": "twice"}, **POINT) for name in PLANNED),
    Row(
        "point_unrefuse",
        "POST",
        allowed=(CLIENT,),
        data=lambda place: {"reason": "the wrong point", "password": PASSWORD},
        **POINT,
    ),
    # With nothing to be released, those who decide nothing are told so; signing is the client's, or of witness points.
    Row("points_several", args=project_pk, scoped=True, allowed=PRESENTERS),
    Row("points_several", "POST", args=project_pk, scoped=True, allowed=PRESENTERS, data=several),
    Row("point_presented", "POST", allowed=PRESENTERS, **POINT),
    Row("api_points_several", "POST", args=project_pk, scoped=True, allowed=PRESENTERS, data=several),
    Row("points_release", args=project_pk, scoped=True, allowed=(MANAGER, CLIENT)),
    Row("points_release", "POST", args=project_pk, scoped=True, allowed=(CLIENT,), data=signed_together),
    Row("points_plan", args=project_pk, scoped=True, allowed=(MANAGER,)),
    Row("points_plan", "POST", args=project_pk, scoped=True, allowed=(MANAGER,)),
    Row("nonconformance_list", allowed=EVERYBODY),
    Row("nonconformance", allowed=EVERYBODY, **NONCONFORMANCE),
    Row(
        "nonconformance_answer",
        "POST",
        allowed=(CONTRACTOR, CLIENT),
        data=lambda place: {"text": "on Monday"},
        **NONCONFORMANCE,
    ),
    Row("nonconformance_say", "POST", allowed=WORKERS, data=commented, **NONCONFORMANCE),
    Row("nonconformance_rework", "POST", allowed=WORKERS, data=rework, **NONCONFORMANCE),
    Row(
        "nonconformance_concede",
        "POST",
        allowed=(CLIENT,),
        data=lambda place: {"reason": "thin but sealed", "password": PASSWORD},
        **NONCONFORMANCE,
    ),
    Row("disposition_take_back", args=pk_of("rework"), scoped=True, allowed=WORKERS),
    Row(
        "disposition_take_back",
        "POST",
        args=pk_of("rework"),
        scoped=True,
        allowed=WORKERS,
        data=lambda place: {"reason": "another area"},
    ),
    Row(
        "disposition_take_back",
        "POST",
        args=pk_of("concession"),
        scoped=True,
        allowed=(MANAGER, CLIENT),
        data=lambda place: {"reason": "given for another area"},
    ),
    Row(
        "disposition_take_back",
        "POST",
        args=pk_of("answer"),
        scoped=True,
        allowed=(CONTRACTOR,),
        data=lambda place: {"reason": "another area"},
    ),
    # The quality manager's; one that a measurement raised closes by the facts, and says so.
    Row("rework_list"),
    Row("rework_item", **REWORK),
    Row("rework_new", args=project_pk, scoped=True, allowed=WORKERS),
    Row("rework_new", "POST", args=project_pk, scoped=True, allowed=WORKERS),
    Row("rework_done", "POST", allowed=WORKERS, **REWORK),
    Row("rework_look", "POST", allowed=WORKERS, **REWORK),
    Row("rework_drop", "POST", allowed=WORKERS, **REWORK),
    Row("rework_take_back", args=pk_of("rework_entry"), scoped=True, allowed=WORKERS),
    Row("rework_take_back", "POST", args=pk_of("rework_entry"), scoped=True, allowed=WORKERS),
    Row("api_rework_list"),
    Row("api_rework_list", "POST", data=rework_opened, allowed=WORKERS, answers=frozenset({201})),
    Row("api_rework", **REWORK),
    Row(
        "api_rework_done",
        "POST",
        data=lambda place: {**rework(place), "done_at": "2026-03-05T10:00:00Z"},
        allowed=WORKERS,
        answers=frozenset({409}),
        **REWORK,
    ),
    Row(
        "api_rework_look",
        "POST",
        data=lambda place: {"in_order": False, "note": "thin"},
        allowed=WORKERS,
        answers=frozenset({201, 422}),
        **REWORK,
    ),
    Row(
        "api_rework_drop",
        "POST",
        data=lambda place: {"reason": "seen twice"},
        allowed=WORKERS,
        answers=frozenset({201}),
        **REWORK,
    ),
    Row(
        "api_rework_take_back",
        "POST",
        args=pk_of("rework_entry"),
        scoped=True,
        allowed=WORKERS,
        data=lambda place: {"reason": "of another bracket"},
        answers=frozenset({201}),
    ),
    Row("nonconformance_extent", **NONCONFORMANCE),
    Row("nonconformance_extent", "POST", allowed=WORKERS, **NONCONFORMANCE),
    Row("nonconformance_extent_drawing", **NONCONFORMANCE),
    Row("extent_spot_take_back", args=pk_of("extent_spot"), scoped=True, allowed=WORKERS),
    Row("extent_spot_take_back", "POST", args=pk_of("extent_spot"), scoped=True, allowed=WORKERS),
    Row("api_nonconformance_extent", **NONCONFORMANCE),
    Row(
        "api_nonconformance_extent",
        "POST",
        allowed=WORKERS,
        data=lambda place: {"id": new_id(), "readings_um": ["85"]},
        **NONCONFORMANCE,
    ),
    Row(
        "api_extent_spot_take_back",
        "POST",
        args=pk_of("extent_spot"),
        scoped=True,
        allowed=WORKERS,
        data=lambda place: {"reason": "the wrong frame"},
    ),
    Row("nonconformance_repaired_part", args=pk_of("failure"), scoped=True, allowed=WORKERS),
    Row("nonconformance_repaired_part", "POST", args=pk_of("failure"), scoped=True, allowed=WORKERS),
    Row("repaired_part", args=pk_of("repaired_part"), scoped=True),
    Row("repaired_part_undo", args=pk_of("repaired_part"), scoped=True, allowed=WORKERS),
    Row("repaired_part_undo", "POST", args=pk_of("repaired_part"), scoped=True, allowed=WORKERS),
    Row("api_nonconformance_repaired_part", args=pk_of("failure"), scoped=True),
    Row(
        "api_nonconformance_repaired_part",
        "POST",
        args=pk_of("failure"),
        scoped=True,
        allowed=WORKERS,
        data=lambda place: {"id": new_id(), "area_m2": "2", "left_out": [1]},
    ),
    Row("api_repaired_part", args=pk_of("repaired_part"), scoped=True),
    Row(
        "api_repaired_part_undo",
        "POST",
        args=pk_of("repaired_part"),
        scoped=True,
        allowed=WORKERS,
        data=lambda place: {"reason": "the wrong frame"},
    ),
    Row("nonconformance_close", "POST", allowed=(MANAGER,), **NONCONFORMANCE),
    Row("nonconformance_close", "POST", args=pk_of("failure"), scoped=True, allowed=(MANAGER,)),
    Row("nonconformance_issue", "POST", allowed=(MANAGER,), data=a_signature, **NONCONFORMANCE),
    Row("nonconformance_drop", "POST", allowed=(MANAGER,), data=lambda place: {"reason": "seen"}, **NONCONFORMANCE),
    Row("nonconformance_new", args=project_pk, scoped=True, allowed=RAISERS),
    Row("nonconformance_new", "POST", args=project_pk, scoped=True, allowed=RAISERS),
    Row("api_point_list", allowed=EVERYBODY),
    Row("api_point", allowed=EVERYBODY, **POINT),
    Row("api_point_release", "POST", allowed=(CLIENT,), data=signed, **POINT),
    Row("api_point_refuse", "POST", allowed=(CLIENT,), data=lambda place: {**signed(place), "reason": "dust"}, **POINT),
    Row("api_point_waive", "POST", allowed=(CLIENT,), data=lambda place: {**signed(place), "reason": "far"}, **POINT),
    Row("api_point_attend", "POST", allowed=(*WORKERS, CLIENT), data=lambda place: {"attended": True}, **POINT),
    Row("api_points_decide", "POST", args=project_pk, scoped=True, allowed=(CLIENT,), data=decided_together),
    Row("api_points_matrix", args=project_pk, scoped=True, allowed=EVERYBODY),
    Row("api_plan_apply", "POST", args=project_pk, scoped=True, allowed=(MANAGER,), data=applied_to),
    Row("api_point_present", "POST", allowed=WORKERS, data=lambda place: {"note": "cleaned again"}, **POINT),
    Row(
        "api_point_unrefuse",
        "POST",
        allowed=(CLIENT,),
        data=lambda place: {"reason": "the wrong point", "password": PASSWORD},
        **POINT,
    ),
    Row("api_point_rename", "POST", allowed=(MANAGER,), data=lambda place: {"title": "Primer"}, **POINT),
    *(
        Row(f"api_{name}", "POST", allowed=(MANAGER,), data=lambda place: {"reason": "twice"}, **POINT)
        for name in PLANNED[1:]
    ),
    Row("api_nonconformance_issue", "POST", allowed=(MANAGER,), data=a_signature, **NONCONFORMANCE),
    Row("api_nonconformance_drop", "POST", allowed=(MANAGER,), data=lambda place: {"reason": "seen"}, **NONCONFORMANCE),
    Row("api_nonconformance_list", allowed=EVERYBODY),
    Row(
        "api_nonconformance_list",
        "POST",
        allowed=RAISERS,
        data=lambda place: {
            "id": new_id(),
            "project": place.site.project.pk,
            "title": "runs",
            "against": "project",
        },
    ),
    Row("api_nonconformance", allowed=EVERYBODY, **NONCONFORMANCE),
    Row(
        "api_nonconformance_answer",
        "POST",
        allowed=(CONTRACTOR, CLIENT),
        data=lambda place: {"text": "on Monday"},
        **NONCONFORMANCE,
    ),
    Row("api_nonconformance_say", "POST", allowed=WORKERS, data=commented, **NONCONFORMANCE),
    Row(
        "api_nonconformance_rework",
        "POST",
        allowed=WORKERS,
        data=lambda place: {**rework(place), "done_at": "2026-03-05T10:00:00Z"},
        **NONCONFORMANCE,
    ),
    Row(
        "api_nonconformance_concede",
        "POST",
        allowed=(CLIENT,),
        data=lambda place: {"reason": "thin but sealed", "password": PASSWORD},
        **NONCONFORMANCE,
    ),
    Row(
        "api_disposition_take_back",
        "POST",
        args=pk_of("rework"),
        scoped=True,
        allowed=WORKERS,
        data=lambda place: {"reason": "another area"},
    ),
]
