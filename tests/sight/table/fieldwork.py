"""What was observed on site: pages, files and the API."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from inspection.fieldwork import uploads
from inspection.fieldwork.kinds import TAKEN_BY_FORM
from inspection.foundation.ids import new_id
from tests.cast import MORNING
from tests.fieldwork.samples import SAMPLES
from tests.sight.rows import EVERYBODY, INSPECTOR, MANAGER, Row, in_project, pk_of
from tests.sight.world import Place

RECORDERS = (INSPECTOR, MANAGER)
RECORD = {"args": in_project, "scoped": True, "allowed": RECORDERS}
THICKNESS = {"args": pk_of("record"), "scoped": True}
SHEET = {"args": pk_of("sheet"), "scoped": True, "allowed": RECORDERS}


def reading_of_sheet(place: Place) -> dict[str, Any]:
    return {**place.pk("sheet"), "reading": place.things["sheet_reading"].pk}


def managers_upload(place: Place) -> dict[str, Any]:
    """An upload that the quality manager has chosen and not confirmed; it is nobody else's to see."""
    site = place.site
    held = uploads.HeldUpload(
        id=new_id(), project=site.project.pk, area=site.area.pk, coat=site.coats[0].pk,
        gauge=place.things["gauge"].pk, profile_way="adjusted", correction_nm=0, note=place.mark,
        first_reading_at=MORNING, last_reading_at=MORNING, replaces=None, replacement_reason="",
        content=b"spot,reading,thickness_um\n1,1,80\n", name="a.csv",
    )  # fmt: skip
    return {**in_project(place), "digest": uploads.hold(place.cast.quinn, held)}


def thickness_sent(place: Place) -> dict[str, Any]:
    """A whole record, so that a person without the right is refused for that and not for a missing field."""
    site = place.site
    return {
        "id": new_id(), "project": site.project.pk, "area": site.area.pk, "coat": site.coats[0].pk,
        "gauge": place.things["gauge"].pk, "profile_way": "adjusted", "first_reading_at": MORNING,
        "last_reading_at": MORNING, "readings": [{"spot": 1, "value_um": 80}],
    }  # fmt: skip


def cells_sent(_: Place) -> dict[str, Any]:
    return {"id": new_id(), "replacement_reason": "typed", "changes": [{"spot": 900, "reading": 1, "left_out": True}]}


def file_sent(place: Place) -> dict[str, Any]:
    sent = {**thickness_sent(place), "name": "a.csv", "rows": "spot,thickness_um\n1,80\n", "confirmed": True}
    del sent["readings"]
    return sent


def climate_sent(place: Place) -> dict[str, Any]:
    site = place.site
    return {
        "id": new_id(), "project": site.project.pk, "area": site.area.pk, "coat": site.coats[0].pk,
        "taken_at": MORNING, "dry_bulb_c": 18, "wet_bulb_c": 14, "surface_c": 17,
    }  # fmt: skip


def profile_sent(place: Place) -> dict[str, Any]:
    site = place.site
    return {
        "id": new_id(), "project": site.project.pk, "area": site.area.pk, "taken_at": MORNING, "method": "comparator",
        "location_value": "mean", "locations": [{"readings_um": [60]}],
    }  # fmt: skip


def test_sent(**observed: Any) -> Callable[[Place], dict[str, Any]]:
    """A test of the film after a coat, with what its kind is told beside."""

    def sent(place: Place) -> dict[str, Any]:
        site = place.site
        return {
            "id": new_id(), "project": site.project.pk, "area": site.area.pk, "coat": site.coats[0].pk,
            "taken_at": MORNING, **observed,
        }  # fmt: skip

    return sent


test_sent.__test__ = False  # type: ignore[attr-defined]  # named as the trade does; none of pytest's


def sample_sent(name: str, place: Place) -> dict[str, Any]:
    site = place.site
    return {
        "id": new_id(), "project": site.project.pk, "area": site.area.pk, "taken_at": MORNING, **SAMPLES[name],
    }  # fmt: skip


# What each kind of record that is taken by a form is sent as.
SENT = {
    "climate": climate_sent,
    "profile": profile_sent,
    "pulloff": test_sent(
        method="ASTM D4541", tests=[{"place": "web", "strength_mpa": 7, "failures_pct": {"B": 100}}], tests_wanted=1,
        used_instrument="hydraulic", dolly_mm=20, steel_mm=12,
    ),
    "wetsponge": test_sent(
        standard="ASTM D5162", dry_film_um=200, voltage_v=67.5, earth_proven=True, tested_m2=5,
        holidays=[{"place": "web"}],
    ),
    "highvoltage": test_sent(
        standard="NACE SP0274", dry_film_um=1500, voltage_v=9600, voltmeter_v=9600, tested_m2=5,
    ),
    "cuttest": test_sent(
        scale="ISO 2409", cuts=[{"place": "web", "rating": "1"}], dry_film_um=180, spacing_mm=3, worst_rating="1",
    ),
    "cure": test_sent(method="ASTM D4752", places=[{"place": "web", "rating": 4}], least=4),
    "hardness": test_sent(method="Shore D", places=[{"place": "web", "readings": [74, 75, 76]}], least=70, steel_c=20),
    "defects": test_sent(defects=[{"kind": "runs", "extent": "3", "place": "web", "acceptable": False}]),
    "wetfilm": test_sent(readings=[{"place": "web", "um": 150}]),
    **{name: partial(sample_sent, name) for name in SAMPLES},
}  # fmt: skip


def of_kind(name: str) -> list[Row]:
    """The pages and addresses that all such kinds have."""
    one = {"args": pk_of(name), "scoped": True}
    return [
        Row(f"{name}_list"),
        Row(name, **one),
        Row(f"{name}_new", **RECORD),
        Row(f"{name}_new", "POST", **RECORD),
        Row(f"api_{name}_list"),
        Row(f"api_{name}_list", "POST", data=SENT[name], allowed=RECORDERS, answers=STORED),
        Row(f"api_{name}", **one),
    ]


def cautions_of(name: str) -> Row:
    return Row(f"api_{name}_cautions", "POST", args=in_project, scoped=True, allowed=RECORDERS, answers=STORED)


PREVIEW = {"args": managers_upload, "scoped": True, "allowed": RECORDERS, "but": {INSPECTOR: 404}}

STORED = frozenset({201})


def by_code(place: Place) -> dict[str, Any]:
    return {"code": place.things["printed"].code}


def first_printed(place: Place) -> dict[str, Any]:
    return {**by_code(place), "number": 1}


def printed_sent(place: Place) -> dict[str, Any]:
    site = place.site
    places = [{"area": str(site.area.pk), "coat": str(site.coats[0].pk)}]
    return {"id": str(new_id()), "project": str(site.project.pk), "places": places}


PRINTED = {"args": by_code, "scoped": True, "allowed": RECORDERS}
BECAUSE = {"reason": "wet"}
PRINTED_SHEETS = [
    Row("printed_new", **RECORD),
    Row("printed_new", "POST", **RECORD),
    Row("printed_list", allowed=RECORDERS),
    Row("printed_list", "POST", allowed=RECORDERS),
    Row("printed_sheet", **PRINTED),
    Row("printed_pdf", **PRINTED),
    Row("printed_enter", args=first_printed, scoped=True, allowed=RECORDERS),
    Row("printed_enter", "POST", args=first_printed, scoped=True, allowed=RECORDERS),
    Row("printed_withdraw", "POST", data=lambda _: BECAUSE, **PRINTED),
    Row("printed_restore", "POST", data=lambda _: BECAUSE, **PRINTED),
    Row("api_printed_list"),
    Row("api_printed_list", "POST", data=printed_sent, allowed=RECORDERS, answers=STORED),
    Row("api_printed", args=pk_of("printed"), scoped=True),
    Row("api_printed_withdraw", "POST", data=lambda _: BECAUSE, args=pk_of("printed"), scoped=True, allowed=RECORDERS),
    Row("api_printed_restore", "POST", data=lambda _: BECAUSE, args=pk_of("printed"), scoped=True, allowed=RECORDERS),
]
ROWS = [
    *PRINTED_SHEETS,
    Row("today", allowed=RECORDERS),
    Row("thickness_list"),
    Row("thickness", **THICKNESS),
    *(
        Row(name, method, args=pk_of("record"), scoped=True, allowed=RECORDERS)
        for name in ("thickness_grid", "thickness_changes")
        for method in ("GET", "POST")
    ),
    Row("thickness_chart", **THICKNESS),
    Row("thickness_file", **THICKNESS),
    Row("thickness_readings", **THICKNESS),
    Row("project_readings", args=in_project, scoped=True),
    Row("thickness_start", **RECORD),
    Row("thickness_start", "POST", **RECORD),
    Row("thickness_upload", **RECORD),
    Row("thickness_upload", "POST", **RECORD),
    Row("thickness_template", **RECORD),
    Row("thickness_preview", **PREVIEW),
    Row("thickness_preview", "POST", **PREVIEW),
    Row("thickness_columns", **PREVIEW),
    Row("thickness_columns", "POST", **PREVIEW),
    Row("sheet", **SHEET),
    Row("sheet", "POST", **SHEET),
    Row("sheet_reading_void", "POST", args=reading_of_sheet, scoped=True, allowed=RECORDERS),
    Row("sheet_reading_right", "POST", args=reading_of_sheet, scoped=True, allowed=RECORDERS),
    # A sheet is finished by the person who measured.
    Row("sheet_finish", "POST", but={MANAGER: 403}, **SHEET),
    Row("sheet_abandon", "POST", **SHEET),
    Row("records"),
    Row("api_thickness_list"),
    Row("api_thickness_list", "POST", data=thickness_sent, allowed=RECORDERS, answers=STORED),
    Row("api_thickness_file", "POST", data=file_sent, allowed=RECORDERS, answers=STORED),
    Row("api_thickness_file_look", "POST", data=file_sent, allowed=RECORDERS),
    Row("api_thickness", **THICKNESS),
    Row("api_thickness_correct", "POST", data=cells_sent, args=pk_of("record"), scoped=True, allowed=RECORDERS),
    Row("api_thickness_result", **THICKNESS),
    Row("api_thickness_conformance", **THICKNESS),
    Row("api_calculation_list", allowed=EVERYBODY),
    Row("api_calculation", "POST", allowed=EVERYBODY, args=lambda place: {"name": "dew-point"}),
    *(row for kind, _ in TAKEN_BY_FORM for row in of_kind(kind.name)),
    *(cautions_of(kind.name) for kind, taken in TAKEN_BY_FORM if taken.cautions),
]
