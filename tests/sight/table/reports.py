"""Landing, decisions, daily reports and their files, the probes."""

from __future__ import annotations

from typing import Any

from tests.sight.rows import ADMIN, INSPECTOR, MANAGER, Row, pk_of
from tests.sight.world import Place

BUILDERS = (INSPECTOR, MANAGER)
COMPANY = (INSPECTOR, MANAGER, ADMIN)


def a_file(place: Place) -> dict[str, Any]:
    return {**place.pk("report"), "revision": 1}


ROWS = [
    Row("home", answers=frozenset({302})),
    Row("healthz", to_strangers=200),
    # No worker runs beside these tests, so the honest answer is 503.
    Row("readyz", answers=frozenset({503}), to_strangers=503),
    Row("decisions", allowed=(MANAGER,)),
    Row("report_list"),
    Row("report_list", "POST", allowed=BUILDERS),
    Row("report_check"),
    Row("report_check", "POST"),
    Row("report", args=pk_of("report"), scoped=True),
    Row("report_build", "POST", args=pk_of("report"), scoped=True, allowed=BUILDERS),
    Row("report_issue", "POST", args=pk_of("report"), scoped=True, allowed=(MANAGER,)),
    Row("report_draft", args=pk_of("report"), scoped=True, allowed=COMPANY, refusal=404),
    Row("report_file", args=a_file, scoped=True),
    Row("api_report_list"),
    Row("api_report", args=pk_of("report"), scoped=True),
    Row("api_report_file", args=a_file, scoped=True),
]
