"""Landing, decisions, daily reports and their files, the probes."""

from __future__ import annotations

from typing import Any

from reports.attention.calendar import make_link
from tests.sight.rows import (
    ADMIN,
    CLIENT,
    CONTRACTOR,
    EVERYBODY,
    INSPECTOR,
    MANAGER,
    Row,
    in_project,
    pk_of,
    project_pk,
)
from tests.sight.world import Place

BUILDERS = (INSPECTOR, MANAGER)
SEEN = {"seen": "1" * 64}
WHY = {"reason": "Typing"}
DIVIDED = {"one_a": "discipline", "from_day": "2026-11-02"}
COMPANY = (INSPECTOR, MANAGER, ADMIN)


def a_file(place: Place) -> dict[str, Any]:
    return {**place.pk("report"), "revision": 1}


def anothers_link(place: Place) -> dict[str, Any]:
    return {"pk": make_link(place.cast.igor, name="phone")[0].pk}


def a_logo(place: Place) -> dict[str, Any]:
    return {"digest": place.things["logo"].pk}


def a_feed(place: Place) -> dict[str, Any]:
    return {"token": make_link(place.inspector, name="phone")[1]}


ROWS = [
    Row("home", allowed=EVERYBODY, answers=frozenset({302})),
    Row("healthz", allowed=EVERYBODY, to_strangers=200),
    # No worker runs beside these tests, so the honest answer is 503.
    Row("readyz", allowed=EVERYBODY, answers=frozenset({503}), to_strangers=503),
    Row("calendar"),
    Row("calendar", "POST"),
    Row("calendar_revoke", "POST", args=anothers_link, allowed=(), refusal=404, but={CONTRACTOR: 403}),
    Row("calendar_feed", allowed=EVERYBODY, args=a_feed, to_strangers=200),
    Row("asked_of_us", allowed=(CONTRACTOR,)),
    Row("areas_of_ours", args=project_pk, scoped=True, allowed=(CONTRACTOR,)),
    Row("decisions", allowed=(MANAGER,)),
    # To anybody but the quality manager there are no such questions.
    Row("question_list", allowed=(MANAGER,), refusal=404),
    Row("question", args=pk_of("question"), scoped=True, allowed=(MANAGER,), refusal=404),
    Row("question", "POST", args=pk_of("question"), scoped=True, allowed=(MANAGER,), refusal=404),
    Row("api_question_list", allowed=(MANAGER,), refusal=404),
    Row("api_question", args=pk_of("question"), scoped=True, allowed=(MANAGER,), refusal=404),
    Row("api_question_answer", "POST", args=pk_of("question"), scoped=True, allowed=(MANAGER,), refusal=404),
    Row("handover", args=project_pk, scoped=True),
    Row("api_handover", args=in_project, scoped=True),
    Row("company_head", allowed=(MANAGER, ADMIN)),
    Row("company_head", "POST", allowed=(MANAGER, ADMIN)),
    Row("company_logo", args=a_logo, allowed=(MANAGER, ADMIN)),
    Row("project_head", args=project_pk, scoped=True, allowed=(MANAGER,)),
    Row("project_head", "POST", args=project_pk, scoped=True, allowed=(MANAGER,)),
    Row("api_company_head", allowed=(MANAGER, ADMIN)),
    Row("api_company_head", "POST", allowed=(MANAGER, ADMIN), data=lambda _: {"address": "1 Quay Street"}),
    Row("api_project_head", args=in_project, scoped=True),
    Row("api_project_head", "POST", args=in_project, scoped=True, allowed=(MANAGER,)),
    Row("project_reporting", args=project_pk, scoped=True, allowed=(MANAGER,)),
    Row("project_reporting", "POST", args=project_pk, scoped=True, allowed=(MANAGER,)),
    Row("reporting_back", args=pk_of("reporting"), scoped=True, allowed=(MANAGER,)),
    Row("reporting_back", "POST", args=pk_of("reporting"), scoped=True, allowed=(MANAGER,)),
    Row("api_project_reporting", args=in_project, scoped=True),
    Row("api_project_reporting", "POST", args=in_project, scoped=True, allowed=(MANAGER,), data=lambda _: DIVIDED),
    Row("api_reporting_back", "POST", args=pk_of("reporting"), scoped=True, allowed=(MANAGER,), data=lambda _: WHY),
    Row("report_list"),
    Row("report_list", "POST", allowed=BUILDERS),
    Row("report_check"),
    Row("report_check", "POST"),
    Row("report", args=pk_of("report"), scoped=True),
    Row("report_build", "POST", args=pk_of("report"), scoped=True, allowed=BUILDERS),
    Row("report_issue", "POST", args=pk_of("report"), scoped=True, allowed=(MANAGER,)),
    Row("report_review", "POST", args=pk_of("report"), scoped=True, allowed=BUILDERS),
    Row("report_unreview", "POST", args=pk_of("report"), scoped=True, allowed=BUILDERS),
    Row("report_comment", "POST", args=pk_of("report"), scoped=True, allowed=(CLIENT,)),
    Row("report_sign", "POST", args=pk_of("report"), scoped=True, allowed=(CLIENT,)),
    Row("report_word_back", args=pk_of("word"), scoped=True, allowed=(CLIENT,)),
    Row("report_word_back", "POST", args=pk_of("word"), scoped=True, allowed=(CLIENT,)),
    Row("api_report_review", "POST", args=pk_of("report"), scoped=True, allowed=BUILDERS, data=lambda _: SEEN),
    Row("api_report_unreview", "POST", args=pk_of("report"), scoped=True, allowed=BUILDERS, data=lambda _: WHY),
    Row("api_report_comment", "POST", args=a_file, scoped=True, allowed=(CLIENT,), data=lambda _: {"text": "Why?"}),
    Row("api_report_sign", "POST", args=a_file, scoped=True, allowed=(CLIENT,)),
    Row("api_report_word_back", "POST", args=pk_of("word"), scoped=True, allowed=(CLIENT,), data=lambda _: WHY),
    Row("report_set_aside", "POST", args=pk_of("report"), scoped=True, allowed=(MANAGER,)),
    Row("report_draft", args=pk_of("report"), scoped=True, allowed=COMPANY, refusal=404),
    Row("report_file", args=a_file, scoped=True),
    Row("api_report_list"),
    Row("api_report", args=pk_of("report"), scoped=True),
    Row("api_report_file", args=a_file, scoped=True),
]
