"""Crews and their shifts."""

from __future__ import annotations

from typing import Any

from inspection.foundation.ids import new_id
from tests.sight.rows import CONTRACTOR, EVERYBODY, INSPECTOR, MANAGER, Row, pk_of, project_pk
from tests.sight.table.projects import SET_UP, set_up
from tests.sight.world import Place

WHY = {"reason": "as the foreman wrote it"}
# The times of the day before the cast's morning, at which the world's crew has its shift.
BEGUN, ENDED = "2026-03-03T06:10:00Z", "2026-03-03T15:30:00Z"
# A contractor's people tap for their own crews; the world's crew is the company's.
MEMBERS: dict[str, Any] = {"scoped": True, "allowed": (MANAGER, INSPECTOR, CONTRACTOR), "but": {CONTRACTOR: 404}}
SEEN: dict[str, Any] = {"scoped": True, "allowed": EVERYBODY, "but": {CONTRACTOR: 404}}


def new_crew(place: Place) -> dict[str, Any]:
    crew = place.things["crew"]
    return {"project": str(crew.project_id), "party": str(crew.party_id), "name": "Nights"}


def people(place: Place) -> dict[str, Any]:
    return {"people": [str(place.inspector.pk)], "begun_at": BEGUN}


PATTERN = {"first": "2026-03-09", "last": "2026-03-13", "weekdays": [0, 1], "begins": "06:00", "ends": "16:00"}


def deeds(thing: str, **rows: dict[str, Any]) -> list[Row]:
    return [
        Row(f"api_{name}", "POST", data=lambda _, sent=sent: sent, args=pk_of(thing), scoped=True, allowed=(MANAGER,))
        for name, sent in rows.items()
    ]


def a_lot(place: Place) -> dict[str, Any]:
    return {
        "id": str(new_id()), "activity": "blast", "method": "dryblast", "crew": str(place.things["crew"].pk),
        "begun_at": BEGUN, "ended_at": ENDED, "places": [{"area": str(place.site.other_area.pk), "m2": 5}],
        "confirmed": True,
    }  # fmt: skip


def typed_lot(place: Place) -> dict[str, Any]:
    return {
        "id": str(new_id()), "activity": "blast", "method": "dryblast", "crew": str(place.things["crew"].pk),
        "begun_at": "2026-03-03T06:10", "places": place.site.other_area.label,
    }  # fmt: skip


# What a contractor's people do with lots of their own crews; the world's is of the company's.
LOGGERS: dict[str, Any] = {**MEMBERS, "args": pk_of("lot")}
LOT_ENDED = {"ended_at": "2026-03-04T00:10:00Z", "drawn_l": 20, "returned_l": 1}
OF_LOTS: dict[str, Any] = {"args": project_pk, "scoped": True}
MAY_LOG = (MANAGER, INSPECTOR, CONTRACTOR)

LOTS = [
    Row("lot_list", **OF_LOTS, allowed=EVERYBODY),
    Row("recoat_clock", **OF_LOTS, allowed=EVERYBODY),
    *(Row(name, **OF_LOTS) for name in ("progress", "progress_chart", "api_progress")),
    Row("lot_new", **OF_LOTS, allowed=MAY_LOG),
    Row("lot_new", "POST", data=typed_lot, **OF_LOTS, allowed=MAY_LOG),
    Row("lot", args=pk_of("lot"), **SEEN),
    Row("lot_end", **LOGGERS),
    Row("lot_end", "POST", data=lambda _: {"ended_at": "2026-03-04T00:10"}, **LOGGERS),
    Row("lot_correct", **LOGGERS),
    Row("lot_correct", "POST", data=lambda place: {**typed_lot(place), **WHY}, **LOGGERS),
    Row("lot_withdraw", **LOGGERS),
    Row("lot_withdraw", "POST", data=lambda _: WHY, **LOGGERS),
    Row("lot_restore", **LOGGERS),
    Row("lot_restore", "POST", data=lambda _: WHY, **LOGGERS),
    Row("api_lot_list", allowed=EVERYBODY),
    Row("api_recoat_clock", **OF_LOTS, allowed=EVERYBODY),
    Row("api_lot", args=pk_of("lot"), **SEEN),
    Row("api_lot_chain", args=pk_of("lot"), **SEEN),
    Row(
        "api_lot_begin", "POST", data=a_lot, **OF_LOTS, allowed=MAY_LOG, but={CONTRACTOR: 404},
    ),
    Row("api_lot_end", "POST", data=lambda _: LOT_ENDED, **LOGGERS),
    Row("api_lot_correct", "POST", data=lambda place: {**a_lot(place), **WHY}, **LOGGERS),
    Row("api_lot_withdraw", "POST", data=lambda _: WHY, **LOGGERS),
    Row("api_lot_restore", "POST", data=lambda _: WHY, **LOGGERS),
]  # fmt: skip


ROWS = [
    *LOTS,
    Row("crew_list", args=project_pk, scoped=True, allowed=EVERYBODY),
    Row("crew_new", **SET_UP),
    Row("crew_new", "POST", **SET_UP),
    Row("crew", args=pk_of("crew"), **SEEN),
    *set_up("crew_people", "crew", begun_at="2026-03-04T06:00"),
    *set_up("shifts_plan", "crew", first="2026-03-09", last="2026-03-13", weekdays="0", begins="06:00", ends="16:00"),
    *set_up("crew_rename", "crew", name="Days 2", **WHY),
    *set_up("crew_end", "crew", **WHY),
    *set_up("crew_restore", "crew", **WHY),
    *set_up("crew_part_correct", "crew_person", begun_at="2026-03-01T06:00", **WHY),
    *set_up("crew_part_remove", "crew_person", **WHY),
    *set_up("shift_replan", "shift", planned_begin="2026-03-03T06:00", planned_end="2026-03-03T17:00", **WHY),
    *set_up("shift_call_off", "shift", **WHY),
    *set_up("shift_restore", "shift", **WHY),
    Row("shift_correct", args=pk_of("shift"), **MEMBERS),
    Row("shift_correct", "POST", data=lambda _: WHY, args=pk_of("shift"), **MEMBERS),
    Row("shift_start", "POST", args=pk_of("crew"), **MEMBERS),
    Row("shift_end", "POST", args=pk_of("shift"), **MEMBERS),
    Row("api_crew_list", allowed=EVERYBODY),
    Row("api_crew", args=pk_of("crew"), **SEEN),
    Row("api_crew_add", "POST", data=new_crew, allowed=(MANAGER,)),
    *deeds(
        "crew", crew_rename={"name": "Days 3", **WHY}, crew_end=WHY, crew_restore=WHY, shifts_plan=PATTERN
    ),
    Row("api_crew_people", "POST", data=people, args=pk_of("crew"), scoped=True, allowed=(MANAGER,)),
    *deeds("crew_person", crew_part_correct={"begun_at": BEGUN, "ended_at": ENDED, **WHY}, crew_part_remove=WHY),
    Row("api_shift_start", "POST", args=pk_of("crew"), **MEMBERS),
    Row("api_shift_list", allowed=EVERYBODY),
    Row("api_shift", args=pk_of("shift"), **SEEN),
    Row("api_shift_end", "POST", args=pk_of("shift"), **MEMBERS),
    Row(
        "api_shift_correct", "POST", data=lambda _: {"begun_at": BEGUN, "ended_at": ENDED, **WHY},
        args=pk_of("shift"), **MEMBERS,
    ),
    *deeds(
        "shift", shift_replan={"planned_begin": BEGUN, "planned_end": ENDED, **WHY}, shift_call_off=WHY,
        shift_restore=WHY,
    ),
]  # fmt: skip
