"""Climate stations, readings at them and logger's files."""

from __future__ import annotations

from typing import Any

from inspection.fieldwork.climate import logger_files
from inspection.foundation.ids import new_id
from tests.cast import MORNING
from tests.sight.rows import EVERYBODY, INSPECTOR, MANAGER, Row, pk_of, project_pk
from tests.sight.world import Place

RECORDERS = (INSPECTOR, MANAGER)
SINCE = "2026-03-01T00:00:00Z"
WHAT = {"code": "CS-9", "name": "Quay", "where": "outdoors"}
WHY: dict[str, Any] = {"reason": "as the foreman wrote it"}
ROWS_SENT = "time;air\n2026-03-04 06:00;20\n2026-03-04 06:10;21\n"
LOG = {"begins": "2026-03-04T00:00:00Z", "ends": "2026-03-05T00:00:00Z"}
SEEN: dict[str, Any] = {"scoped": True, "allowed": EVERYBODY}
KEPT: dict[str, Any] = {"scoped": True, "allowed": RECORDERS}


def station_sent(place: Place) -> dict[str, Any]:
    site = place.site
    return {"id": str(new_id()), "project": str(site.project.pk), "areas": [str(site.area.pk)], "since": SINCE, **WHAT}


def areas_sent(place: Place) -> dict[str, Any]:
    return {"areas": [str(place.site.area.pk)], "since": SINCE, **WHY}


def reading_sent(place: Place) -> dict[str, Any]:
    return {
        "id": str(new_id()), "coats": [str(place.site.coats[0].pk)], "taken_at": MORNING.isoformat(),
        "dry_bulb_c": 20, "wet_bulb_c": 15, "surface_c": 18,
    }  # fmt: skip


def managers_file(place: Place) -> dict[str, Any]:
    """A logger's file that the quality manager has looked at and not stored; it is nobody else's to see."""
    digest = logger_files.hold(
        place.cast.quinn, station=place.things["station"], content=ROWS_SENT.encode(), name="a.csv", gap_min=15,
        note=place.mark,
    )  # fmt: skip
    return {**place.pk("station"), "digest": digest}


def pages(address: str, thing: str, **sent: Any) -> list[Row]:
    """A form that inspectors and quality managers fill in: looked at, and sent."""
    return [
        Row(address, args=pk_of(thing), **KEPT),
        Row(address, "POST", data=lambda _: {**sent, **WHY}, args=pk_of(thing), **KEPT),
    ]


def deed(address: str, thing: str, data: Any) -> Row:
    return Row(address, "POST", data=data if callable(data) else lambda _: data, args=pk_of(thing), **KEPT)


ROWS = [
    Row("station_list", args=project_pk, **SEEN),
    Row("station_new", args=project_pk, **KEPT),
    Row("station_new", "POST", args=project_pk, **KEPT),
    Row("station", args=pk_of("station"), **SEEN),
    *pages("station_read", "station"),
    *pages("station_change", "station", **WHAT, holds_h="3"),
    *pages("station_areas", "station", every="on", since="2026-03-01T00:00"),
    *pages("station_end", "station"),
    *pages("station_restore", "station"),
    Row("station_log", args=pk_of("station"), **SEEN),
    *(Row(f"log_{which}", args=pk_of("station"), **SEEN) for which in ("temperatures", "humidity", "margin")),
    *pages("logger_new", "station"),
    Row("logger_preview", args=managers_file, scoped=True, allowed=(MANAGER,), but={INSPECTOR: 404}),
    Row("logger_preview", "POST", args=managers_file, scoped=True, allowed=(MANAGER,), but={INSPECTOR: 404}),
    Row("logger_columns", args=managers_file, scoped=True, allowed=(MANAGER,), but={INSPECTOR: 404}),
    Row("logger_columns", "POST", args=managers_file, scoped=True, allowed=(MANAGER,), but={INSPECTOR: 404}),
    Row("logger_file", args=pk_of("logger_file"), **SEEN),
    Row("logger_download", args=pk_of("logger_file"), scoped=True),
    *pages("logger_withdraw", "logger_file"),
    *pages("logger_restore", "logger_file"),
    Row("api_station_list", allowed=EVERYBODY),
    Row("api_station_list", "POST", data=station_sent, allowed=RECORDERS),
    Row("api_station", args=pk_of("station"), **SEEN),
    deed("api_station_change", "station", {**WHAT, **WHY}),
    deed("api_station_areas", "station", areas_sent),
    deed("api_station_end", "station", WHY),
    deed("api_station_restore", "station", WHY),
    deed("api_station_readings", "station", reading_sent),
    Row("api_station_log", "POST", data=lambda _: LOG, args=pk_of("station"), **SEEN),
    deed("api_logger_file_add", "station", {"name": "a.csv", "rows": ROWS_SENT, "gap_min": 15}),
    deed("api_logger_file_look", "station", {"name": "a.csv", "rows": ROWS_SENT, "gap_min": 15}),
    Row("api_logger_file_list", allowed=EVERYBODY),
    Row("api_logger_file", args=pk_of("logger_file"), **SEEN),
    deed("api_logger_file_withdraw", "logger_file", WHY),
    deed("api_logger_file_restore", "logger_file", WHY),
]
