"""Projects, what was specified for them, and who takes part."""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import Any

from inspection.foundation.ids import new_id
from tests.sight.rows import CLIENT, EVERYBODY, INSPECTOR, MANAGER, Row, pk_of, project_pk
from tests.sight.world import Place

OF_PROJECT = {"args": project_pk, "scoped": True}
SET_UP = {**OF_PROJECT, "allowed": (MANAGER,)}


def set_up(address: str, thing: str, **data: str) -> list[Row]:
    """A form about one thing of a project that quality managers alone fill in: looked at, and sent."""
    common = {"args": pk_of(thing), "scoped": True, "allowed": (MANAGER,)}
    return [Row(address, **common), Row(address, "POST", data=lambda place: data, **common)]


WHY = {"reason": "as built"}
PARTS = [{"code": f"A9-{number}", "name": "Half", "area_m2": 4} for number in (1, 2)]


def of_structure(place: Place) -> dict[str, Any]:
    return {"structure": str(place.site.structure.pk)}


def both(place: Place) -> dict[str, Any]:
    return {**WHY, "areas": [str(place.site.area.pk), str(place.site.other_area.pk)], "code": "A8", "name": "Both"}


def a_member(place: Place) -> dict[str, Any]:
    return {"person": str(place.client.pk), "role": "client"}


def class_society(place: Place) -> dict[str, Any]:
    return {"project": str(place.site.project.pk), "organisation": str(place.client.organisation_id), "kind": "class"}


def a_revision(_: Place) -> dict[str, Any]:
    return {**WHY, "id": str(new_id()), "applies_from": "2026-03-05", "preparation_grade": "Sa 3"}


AREA_DEEDS: dict[str, Callable[[Place], dict[str, Any]]] = {
    "measure": lambda place: {**WHY, "area_m2": 9},
    "rename": lambda place: {**WHY, "code": "A7", "name": "Hatch"},
    "move": lambda place: {**WHY, **of_structure(place)},
    "system": lambda place: {**WHY, "system": str(place.site.system.pk)},
    "divide": lambda place: {**WHY, "parts": PARTS},
    "retire": lambda place: WHY,
    "restore": lambda place: WHY,
}


OF_SPECIFICATION = {"args": pk_of("specification"), "scoped": True}
ANSWERERS = (MANAGER, CLIENT)
A_REVISION = {"revision": "C2", "dated": "2026-03-02"}
A_DEVIATION = {"asked": "By roller", "asked_for": "Somebody, Owner", "asked_on": "2026-03-02"}
AN_ANSWER = {
    "outcome": "declined", "answer": "By spray", "answered_by": "Somebody, Owner", "answered_on": "2026-03-04",
}  # fmt: skip


def to_api(name: str, thing: str, data: dict[str, str], allowed: Collection[str] = (MANAGER,)) -> Row:
    return Row(name, "POST", data=lambda _: data, args=pk_of(thing), scoped=True, allowed=allowed)


SPECIFICATION = [
    Row("specification", **OF_SPECIFICATION),
    Row("specification_new", **SET_UP),
    Row("specification_new", "POST", data=lambda _: {"number": "S-2", "title": "Repairs"}, **SET_UP),
    *set_up("specification_correct", "specification", number="S-9", title="Painting", reason="as printed"),
    *set_up("specification_remove", "specification", reason="a slip"),
    *set_up("specification_revise", "specification", **A_REVISION),
    *set_up("deviation_ask", "specification", **A_DEVIATION),
    Row("specification_file", args=pk_of("specification_revision"), scoped=True),
    Row("deviation_answer", args=pk_of("deviation"), scoped=True, allowed=ANSWERERS),
    Row("deviation_answer", "POST", data=lambda _: AN_ANSWER, args=pk_of("deviation"), scoped=True, allowed=ANSWERERS),
    *set_up("revision_withdraw", "specification_revision", reason="a slip"),
    *set_up("deviation_withdraw", "deviation", reason="a slip"),
    *set_up("answer_withdraw", "deviation_answer", reason="a slip"),
    Row("api_specification_list"),
    Row("api_specification", **OF_SPECIFICATION),
    Row(
        "api_specification_add",
        "POST",
        allowed=(MANAGER,),
        data=lambda place: {"project": str(place.site.project.pk), "number": "S-3", "title": "Repairs"},
    ),
    to_api("api_specification_correct", "specification", {**WHY, "number": "S-8", "title": "Painting"}),
    to_api("api_specification_remove", "specification", WHY),
    to_api("api_specification_revise", "specification", {**A_REVISION, "revision": "C3"}),
    to_api("api_deviation_ask", "specification", A_DEVIATION),
    to_api("api_deviation_answer", "deviation", AN_ANSWER, ANSWERERS),
    to_api("api_revision_withdraw", "specification_revision", WHY),
    to_api("api_deviation_withdraw", "deviation", WHY),
    to_api("api_answer_withdraw", "deviation_answer", WHY),
]


ROWS = [
    Row("project_list", allowed=EVERYBODY),
    Row("project_new", allowed=(MANAGER,)),
    Row("project_new", "POST", allowed=(MANAGER,)),
    Row("project", allowed=EVERYBODY, **OF_PROJECT),
    Row("project_qualifications", **SET_UP),
    Row("project_qualifications", "POST", **SET_UP),
    Row("member_new", **SET_UP),
    Row("member_new", "POST", **SET_UP),
    Row("project_correct", **SET_UP),
    Row("project_correct", "POST", **SET_UP),
    Row("project_close", **SET_UP),
    Row("project_close", "POST", data=lambda place: {"reason": "handed over"}, **SET_UP),
    Row("project_reopen", **SET_UP),
    Row("project_reopen", "POST", data=lambda place: {"reason": "more to do"}, **SET_UP),
    Row("member_end", args=pk_of("membership"), scoped=True, allowed=(MANAGER,)),
    Row("api_member_add", "POST", data=a_member, **SET_UP),
    Row("api_member_end", "POST", args=pk_of("membership"), scoped=True, allowed=(MANAGER,)),
    Row("member_end", "POST", args=pk_of("membership"), scoped=True, allowed=(MANAGER,)),
    Row("structure_new", **SET_UP),
    Row("structure_new", "POST", **SET_UP),
    Row("structure", allowed=EVERYBODY, args=pk_of("structure"), scoped=True),
    Row("party_new", **SET_UP),
    Row("party_new", "POST", **SET_UP),
    Row("party", args=pk_of("party"), scoped=True),
    *set_up("party_end", "party", reason="left the site"),
    *set_up("party_take_up", "party", reason="came back"),
    *set_up("scope_give", "party", section="Bay"),
    *set_up("scope_end", "scope", reason="given by mistake"),
    *set_up("structure_correct", "structure", name="Tank 2", reason="as drawn"),
    *set_up("section_new", "structure", name="Bay"),
    *set_up("section_change", "section", name="Bay 2", reason="as drawn"),
    *set_up("section_remove", "section", reason="not there"),
    Row("area", allowed=EVERYBODY, args=pk_of("area"), scoped=True),
    *set_up("area_measure", "area", area_m2="9", reason="measured"),
    *set_up("area_tank_sizes", "area", boundaries_m="12; 2 × 6", reason="from the tank"),
    *set_up("area_rename", "area", code="A9", name="Hatch", shape="plate", reason="as drawn"),
    *set_up("area_move", "area", section="", reason="as drawn"),
    *set_up("area_system", "area", reason="as specified"),
    *set_up("area_divide", "area", parts="2", reason="in two strakes"),
    *set_up("areas_merge", "structure", areas="A1\nA2", code="A9", name="Both", reason="one strake"),
    *set_up("area_retire", "area", reason="not built"),
    *set_up("area_restore", "area", reason="built"),
    *SPECIFICATION,
    Row("system", args=pk_of("system"), scoped=True),
    *set_up("system_revise", "system", applies_from="2026-03-05", reason="thicker"),
    *set_up("system_take_back", "system", reason="a slip"),
    Row("system_new", **SET_UP),
    Row("system_new", "POST", **SET_UP),
    Row("data_sheet_new", **SET_UP),
    Row("data_sheet_new", "POST", data=lambda place: {"product": "Paint", "revision": "2"}, **SET_UP),
    Row("data_sheet", args=pk_of("data_sheet"), scoped=True, allowed=EVERYBODY),
    *set_up("data_sheet_correct", "data_sheet", product="Paint", revision="3", reason="as printed"),
    *set_up("data_sheet_remove", "data_sheet", reason="not used"),
    *set_up("coat_data_sheet", "coat", reason="as specified"),
    *set_up("stripe_new", "system", side="before", name="Second stripe", product="Paint", method="brush", welds="on"),
    *set_up(
        "stripe_change", "stripe", side="after", name="Stripe", product="Paint", method="brush", reason="as specified"
    ),
    *set_up("stripe_remove", "stripe", reason="not specified"),
    Row("area_new", **SET_UP),
    Row("area_new", "POST", **SET_UP),
    Row("area_file", **OF_PROJECT),
    Row("area_labels", args=project_pk, scoped=True, allowed=(INSPECTOR, MANAGER)),
    Row("area_upload", **SET_UP),
    Row("area_upload", "POST", **SET_UP),
    Row(
        "api_area_table",
        "POST",
        data=lambda _: {"name": "a.csv", "rows": "code;name;area_m2\nT1;Wall;4\n"},
        answers=frozenset({201}),
        **SET_UP,
    ),
    Row("api_project_list", allowed=EVERYBODY),
    Row("api_project", allowed=EVERYBODY, **OF_PROJECT),
    Row("api_party_list", allowed=EVERYBODY),
    Row("api_party", args=pk_of("party"), scoped=True, allowed=EVERYBODY),
    Row("api_party_add", "POST", data=class_society, allowed=(MANAGER,)),
    *(
        Row(f"api_{deed}", "POST", data=data, args=pk_of(thing), scoped=True, allowed=(MANAGER,))
        for deed, thing, data in (
            ("party_end", "party", lambda _: WHY),
            ("party_take_up", "party", lambda _: WHY),
            ("scope_give", "party", lambda place: {"area": str(place.site.area.pk)}),
            ("scope_end", "scope", lambda _: WHY),
        )
    ),
    Row("api_area_list", allowed=EVERYBODY),
    Row("api_area", allowed=EVERYBODY, args=lambda place: {"pk": place.site.area.pk}, scoped=True),
    *(
        Row(f"api_area_{deed}", "POST", data=data, args=pk_of("area"), scoped=True, allowed=(MANAGER,))
        for deed, data in AREA_DEEDS.items()
    ),
    Row("api_areas_merge", "POST", data=both, allowed=(MANAGER,)),
    Row("api_section_add", "POST", data=lambda place: {**of_structure(place), "name": "Bay 3"}, allowed=(MANAGER,)),
    *(
        Row(f"api_section_{deed}", "POST", data=data, args=pk_of("section"), scoped=True, allowed=(MANAGER,))
        for deed, data in {
            "change": lambda _: {**WHY, "name": "Bay 4"},
            "remove": lambda _: WHY,
        }.items()
    ),
    Row("api_section_list", allowed=EVERYBODY),
    Row("api_section", allowed=EVERYBODY, args=pk_of("section"), scoped=True),
    Row("api_system_list", allowed=EVERYBODY),
    Row("api_system", allowed=EVERYBODY, args=lambda place: {"pk": place.site.system.pk}, scoped=True),
    Row("api_area_steps", allowed=EVERYBODY, args=pk_of("area"), scoped=True),
    *(
        Row(f"api_system_{deed}", "POST", data=data, args=pk_of("system"), scoped=True, allowed=(MANAGER,))
        for deed, data in {"revise": a_revision, "take_back": lambda _: WHY}.items()
    ),
]
