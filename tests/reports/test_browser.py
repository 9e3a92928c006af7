"""The report pages as people use them: on a phone and at a desk, light and dark, without scripts."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from accounts import vault
from reports.daily import actions
from reports.daily.models import DailyReport
from reports.work import jobs
from reports.work.models import Job
from tests import cast as casting
from tests.cast import DAY, MORNING, Cast
from tests.reports.day import HOUR, check, climate, measure, worked

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def cast() -> Cast:
    return casting.cast()


@pytest.fixture
def report(cast: Cast) -> DailyReport:
    """Issued once, and changed since; another area fails and waits for its closing check."""
    worked(cast)
    _build(cast)
    report = DailyReport.objects.get()
    actions.issue_report(cast.quinn, report=report)
    climate(cast, MORNING + 3 * HOUR)
    _build(cast)
    check(cast, "opening", MORNING + timedelta(days=1))
    measure(cast, MORNING + timedelta(days=1, hours=1), area=cast.site.other_area, mean_um=45)
    return report


def _build(cast: Cast) -> None:
    jobs.run(actions.queue_report(cast.quinn, project=cast.site.project, day=DAY).pk)


@pytest.mark.parametrize(("width", "dark"), [(390, True), (1280, False)])
def test_pages_of_reports_are_accessible(
    cast: Cast, report: DailyReport, page_as: Any, axe: Any, width: int, dark: bool
) -> None:
    for someone, addresses in (
        (cast.quinn, ("/decisions/", "/reports/", f"/reports/{report.pk}/", "/reports/check/", "/calendar/")),
        (cast.clara, ("/reports/", f"/reports/{report.pk}/")),
    ):
        page = page_as(someone, width=width, dark=dark)
        for address in addresses:
            page.goto(address)
            axe(page)
            assert page.evaluate("document.documentElement.scrollWidth") <= width, f"{address} scrolls sideways"


def test_a_manager_issues_a_new_revision_without_scripts(cast: Cast, report: DailyReport, page_as: Any) -> None:
    page = page_as(cast.quinn, width=1280, scripts=False)
    page.goto("/")
    page.get_by_role("link", name="Report of 2026-03-04").first.click()
    page.get_by_role("button", name="Issue the report").click()
    assert page.get_by_role("alert").get_by_text("Say why revision 1 is replaced.").is_visible()
    page.get_by_label("Why there is a new revision").fill("A climate record came late")
    page.get_by_role("button", name="Issue the report").click()
    assert page.get_by_role("link", name="Open revision 2").is_visible()
    assert page.get_by_role("cell", name="A climate record came late").is_visible()


def test_an_inspector_has_a_report_built_on_the_phone(cast: Cast, report: DailyReport, page_as: Any) -> None:
    page = page_as(cast.ines, width=390, scripts=False)
    page.goto("/reports/")
    page.locator("form[method=post]").get_by_label("Project").select_option(label=str(cast.site.project))
    page.get_by_label("Day").fill("2026-03-05")
    page.get_by_role("button", name="Build the draft").click()
    assert page.get_by_text("A worker builds the draft now").is_visible()
    assert Job.objects.filter(state=Job.State.QUEUED).count() == 1


def test_a_client_checks_the_file_they_were_given(
    cast: Cast, report: DailyReport, page_as: Any, tmp_path: Path
) -> None:
    file = tmp_path / "given.pdf"
    file.write_bytes(vault.content_of(report.issues.get().file))
    page = page_as(cast.clara, width=390, scripts=False)
    page.goto("/reports/check/")
    page.get_by_label("The PDF file").set_input_files(file)
    page.get_by_role("button", name="Check").click()
    assert page.get_by_role("heading", name="Issued and unchanged").is_visible()
