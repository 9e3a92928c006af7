"""Inspection and test plans: pages, what is done with a revision, legend and calendar, and the API."""

from __future__ import annotations

from typing import Any

from tests.cast import PASSWORD
from tests.sight.rows import CLIENT, CONTRACTOR, EVERYBODY, MANAGER, Row, pk_of, project_pk
from tests.sight.world import Place

OF_PROJECT = {"args": project_pk, "scoped": True}
OF_REVISION = {"args": pk_of("plan_revision"), "scoped": True}
OF_LINE = {"args": pk_of("plan_line"), "scoped": True}
SET_UP = {"allowed": (MANAGER,)}
WHY = {"data": lambda place: {"reason": "as agreed"}}
DEEDS = ("plan_throw_away", "plan_take_up")
FORMS = ("plan_line_new", "plan_table", "plan_ask", "plan_force", "plan_revise", "plan_keep")


def a_line(place: Place) -> dict[str, Any]:
    return {
        "lines": [
            {
                "number": "2", "activity": "climate", "title": "Climate", "frequency": "every shift",
                "criterion": "3 K above dew point", "interventions": [{"party_kind": "client", "letter": "H"}],
            }
        ]
    }  # fmt: skip


def signed_lines(place: Place) -> dict[str, Any]:
    return {"password": PASSWORD, "digest": "0" * 64}


def an_approval(place: Place) -> dict[str, Any]:
    return {"pk": place.things["plan_revision"].approvals.get().pk}


ROWS = [
    Row("plan", allowed=EVERYBODY, **OF_PROJECT),
    Row("plan_begin", **OF_PROJECT, **SET_UP),
    Row("plan_begin", "POST", **OF_PROJECT, **SET_UP),
    Row("plan_legend", **OF_PROJECT, **SET_UP),
    Row("plan_legend", "POST", **OF_PROJECT, **SET_UP),
    Row("plan_calendar", **OF_PROJECT, **SET_UP),
    Row("plan_calendar", "POST", **OF_PROJECT, **SET_UP),
    Row("plan_templates", **SET_UP),
    Row("plan_templates", "POST", **SET_UP),
    Row("company_legend", **SET_UP),
    Row("company_legend", "POST", **SET_UP),
    Row("plan_revision", allowed=EVERYBODY, **OF_REVISION),
    Row("plan_file", **OF_REVISION),
    *(Row(name, **OF_REVISION, **SET_UP) for name in (*FORMS, *DEEDS)),
    *(Row(name, "POST", **OF_REVISION, **SET_UP) for name in FORMS),
    *(Row(name, "POST", **OF_REVISION, **SET_UP, **WHY) for name in DEEDS),
    # Without a password nobody gets as far as being told that it is not theirs to approve.
    Row("plan_approve", "POST", allowed=EVERYBODY, **OF_REVISION),
    # The client's; a painting contractor's people see those of their own party only.
    Row("plan_withdraw", args=an_approval, scoped=True, but={CONTRACTOR: 404}),
    Row("plan_withdraw", "POST", args=an_approval, scoped=True, but={CONTRACTOR: 404}),
    Row("plan_line", **OF_LINE, **SET_UP),
    Row("plan_line", "POST", **OF_LINE, **SET_UP),
    Row("plan_line_out", **OF_LINE, **SET_UP),
    Row("plan_line_out", "POST", **OF_LINE, **SET_UP),
    Row("api_plan_revision_list", allowed=EVERYBODY),
    Row("api_plan_revision", allowed=EVERYBODY, **OF_REVISION),
    Row("api_plan_ask", "POST", **OF_REVISION, **SET_UP),
    # The painting contractor is asked here, and nobody else.
    Row("api_plan_approve", "POST", data=signed_lines, allowed=(CONTRACTOR,), **OF_REVISION),
    Row("api_plan_withdraw", "POST", args=an_approval, scoped=True, allowed=(CLIENT,), but={CONTRACTOR: 404}, **WHY),
    Row("api_plan_force", "POST", **OF_REVISION, **SET_UP),
    Row("api_plan_revise", "POST", **OF_REVISION, **SET_UP),
    Row("api_plan_throw_away", "POST", **OF_REVISION, **SET_UP, **WHY),
    Row("api_plan_take_up", "POST", **OF_REVISION, **SET_UP, **WHY),
    Row(
        "api_plan_table",
        "POST",
        data=lambda _: {"name": "l.csv", "rows": "number;title\n2;Climate\n"},
        **OF_REVISION,
        **SET_UP,
    ),
    Row("api_plan_lines", "POST", data=a_line, **OF_REVISION, **SET_UP),
]
