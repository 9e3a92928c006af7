"""The quality manager's landing page: what needs a decision, each with its reason and the page to decide on."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from accounts.actions import accept_invitation, invite
from accounts.models import Qualification, Role
from inspection.foundation.ids import new_id
from inspection.holdpoints.models import HoldPoint
from inspection.instruments.models import Certificate, Gauge, ReferenceStandard
from inspection.nonconformance.actions import About, concede, raise_once, record_rework, say, take_back
from inspection.nonconformance.models import Nonconformance
from inspection.standing.models import Standing
from reports.attention import needs, reminders
from reports.daily import actions
from reports.daily.models import DailyReport
from reports.work.models import Job
from tests.cast import DAY, MORNING, PASSWORD, Cast, scheme
from tests.reports.day import CLOSING, HOUR, check, climate, decide, measure, point, worked
from tests.reports.test_issue import built

# On this day nothing of the cast is about to run out.
NOW = MORNING + timedelta(days=1)


UNDECIDED = "Nothing is decided about it: a quality manager says whether it is reworked, repaired or rejected."


def needed(cast: Cast, key: str, at: object = NOW) -> list[tuple[str, str]]:
    """What stands in one section, and why."""
    sections = {section.key: section for section in needs.decisions(cast.quinn, at)}
    return [(row.what, row.reason) for row in sections[key].rows]


def test_a_quiet_house_needs_nothing(cast: Cast) -> None:
    worked(cast)
    actions.issue_report(cast.quinn, report=built(cast))
    assert [section.key for section in needs.decisions(cast.quinn, NOW) if section.total] == []


def test_a_record_in_question_is_shown_with_its_reason(cast: Cast) -> None:
    record = worked(cast)
    Standing.objects.filter(record=record).update(state="in_question", reasons=["The gauge fell."])
    assert needed(cast, "in-question") == [("A1 after Primer", "The gauge fell.")]


def test_who_waits_to_be_confirmed_and_what_is_drafted_needs_the_one_who_may(cast: Cast) -> None:
    _, token = invite(cast.admin, email="nemo@example.com", name="Nemo New", organisation=cast.owner, role=Role.CLIENT)
    accept_invitation(token=token, password=PASSWORD)
    site, told = cast.site, "Runs at the edge"
    about = About(area=site.area, coat=site.coats[0])
    raise_once(cast.ines, id=new_id(), project=site.project, about=about, title=told, as_draft=True)
    ((who, why),) = needed(cast, "arrivals")
    assert (who, "see nothing until then" in why) == ("Nemo New", True)
    sections = {section.key: section.total for section in needs.decisions(cast.admin, NOW)}
    assert sections["arrivals"] == 0, "who invited does not confirm the first of a party"
    assert needed(cast, "drafted")[0][0].endswith(told)


def test_a_record_measured_again_since_no_longer_needs_a_decision(cast: Cast) -> None:
    check(cast, "opening", MORNING)
    measure(cast, MORNING + HOUR, mean_um=45)
    Nonconformance.objects.update(state="closed")
    assert needed(cast, "failing")[0][0] == "A1 after Primer"
    measure(cast, MORNING + 2 * HOUR, mean_um=90)
    assert needed(cast, "failing") == []


def test_a_failing_area_stands_once_with_its_figures_and_what_is_missing(cast: Cast) -> None:
    check(cast, "opening", MORNING)
    record = measure(cast, MORNING + HOUR, mean_um=45)
    assert record.mean_nm is not None
    figures = (
        f"Mean {record.mean_nm / 1000:.1f} µm. Not met: Every spot mean is at least 80 % of the specified minimum."
    )
    assert needed(cast, "failing") == []
    ((_, reason),) = needed(cast, "nonconformances")
    assert reason.startswith(f"{figures} No rework is recorded")
    # Without a nonconformance of it, and with one about something else, the area stands for itself.
    Nonconformance.objects.update(state="closed")
    common = {"project": cast.site.project, "area": cast.site.area, "coat": cast.site.coats[0]}
    Nonconformance.objects.create(number=7, title="Runs", raised_at=MORNING, **common)
    assert needed(cast, "failing") == [("A1 after Primer", figures)]
    assert needed(cast, "nonconformances") == [("NC-007 Runs", UNDECIDED)]


def test_a_conceded_area_needs_no_decision_until_the_concession_is_taken_back_or_it_fails_again(cast: Cast) -> None:
    check(cast, "opening", MORNING)
    measure(cast, MORNING + HOUR, mean_um=45)
    raised = Nonconformance.objects.get()
    given = concede(cast.clara, nonconformance=raised, reason="Accepted as it is", password=PASSWORD)
    assert needed(cast, "failing") == needed(cast, "nonconformances") == []
    take_back(cast.clara, disposition=given, reason="Of another area")
    assert [what for what, _ in needed(cast, "nonconformances")] == [str(raised)]
    concede(cast.clara, nonconformance=raised, reason="Accepted after all", password=PASSWORD)
    measure(cast, MORNING + 2 * HOUR, mean_um=40)
    Nonconformance.objects.update(state="closed")
    assert [what for what, _ in needed(cast, "failing")] == ["A1 after Primer"]


def test_open_nonconformances_say_what_is_missing(cast: Cast) -> None:
    common = {"project": cast.site.project, "area": cast.site.area, "coat": cast.site.coats[0]}
    Nonconformance.objects.create(number=1, title="Runs", raised_at=MORNING, **common)
    sags = Nonconformance.objects.create(number=2, title="Sags", repair="Sanded", raised_at=CLOSING, **common)
    say(cast.quinn, nonconformance=sags, kind="decision", choice="rework", text="Sand it")
    record_rework(cast.ines, nonconformance=sags, what="Sanded", done_by="Crew 2", done_at=CLOSING)
    say(cast.quinn, nonconformance=sags, kind="effect", choice="reached", text="Even")
    Nonconformance.objects.create(number=3, title="Gone", state="closed", **common)
    assert needed(cast, "nonconformances") == [
        ("NC-001 Runs", UNDECIDED),
        ("NC-002 Sags", "A quality manager looks at it and closes it."),
    ]


def test_points_refused_and_points_in_doubt_name_who_decided(cast: Cast) -> None:
    record = worked(cast)
    decide(cast, point(cast, cast.site.area, 1), "refused", CLOSING, record, "Runs at the corner")
    doubtful = point(cast, cast.site.area, 2, "Intermediate complete")
    decide(cast, doubtful, "released", CLOSING, record)
    HoldPoint.objects.filter(pk=doubtful.pk).update(doubted_at=CLOSING)
    assert needed(cast, "refused") == [("Primer complete", "Clara Client, Owner One: Runs at the corner")]
    assert needed(cast, "doubtful-releases") == [
        ("Intermediate complete", "Released by Clara Client, Owner One; look at its evidence again")
    ]


def test_certificates_and_qualifications_running_out_are_shown_two_months_before(cast: Cast) -> None:
    Qualification.objects.create(
        person=cast.ines, scheme=scheme(), number="CI-17", issued=date(2023, 1, 1), expires=date(2026, 9, 1)
    )
    at = timezone.make_aware(timezone.datetime(2026, 7, 2, 9))
    assert needed(cast, "certificates", at - timedelta(days=10)) == []
    assert needed(cast, "certificates", at + timedelta(days=1)) == [
        ("Certificate CG-1", "Runs out on 2026-09-01, in 60 days"),
        ("Certificate CS-1", "Runs out on 2026-09-01, in 60 days"),
    ]
    assert needed(cast, "qualifications", at + timedelta(days=1)) == [
        ("Coating inspector, Ines Inspector", "Runs out on 2026-09-01, in 60 days")
    ]


def test_what_is_overdue_says_for_how_long_and_whether_it_was_escalated(cast: Cast) -> None:
    expires = date(2026, 9, 1)
    Qualification.objects.create(
        person=cast.ines, scheme=scheme(), number="CI-17", issued=date(2023, 1, 1), expires=expires
    )

    def said_after(days: int) -> set[tuple[str, str]]:
        at = timezone.make_aware(timezone.datetime(2026, 9, 1, 9)) + timedelta(days=days)
        sections = {section.key: section for section in needs.decisions(cast.quinn, at)}
        rows = (*sections["certificates"].rows, *sections["qualifications"].rows)
        assert [row.what for row in rows] == [
            "Certificate CG-1",
            "Certificate CS-1",
            "Coating inspector, Ines Inspector",
        ]
        reminders.remind(at)
        return {(row.words, row.reason) for row in rows}

    assert said_after(0) == {("Expiring", "Runs out today, 2026-09-01")}
    assert said_after(1) == {("1 day overdue", "Ran out on 2026-09-01, 1 day ago; to be escalated on 2026-09-08")}
    assert said_after(7) == {("7 days overdue", "Ran out on 2026-09-01, 7 days ago; to be escalated on 2026-09-08")}
    assert said_after(7) == {("7 days overdue", "Ran out on 2026-09-01, 7 days ago; escalated on 2026-09-08")}
    said_after(14)
    assert said_after(15) == {
        ("15 days overdue", "Ran out on 2026-09-01, 15 days ago; escalated 2 times, last on 2026-09-15")
    }


def test_equipment_in_service_without_a_certificate_is_shown_at_once(cast: Cast) -> None:
    Gauge.objects.create(identity="H-01", kind="climate", state_since=NOW - HOUR, holder=cast.ines)
    ReferenceStandard.objects.create(identity="S-75", nominal_nm=75_000, state_since=NOW - timedelta(days=8))
    Gauge.objects.create(identity="H-02", kind="climate", state_since=NOW, state="quarantined")
    reminders.remind(NOW)
    sections = {section.key: section for section in needs.decisions(cast.quinn, NOW)}
    assert [(row.what, row.place, row.words, row.reason) for row in sections["certificates"].rows] == [
        (
            "S-75", "in store", "No certificate",
            "Has had no certificate since 2026-02-25, for 8 days; escalated on 2026-03-05",
        ),
        (
            "H-01", "Ines Inspector", "No certificate",
            "Has had no certificate since 2026-03-05; to be escalated on 2026-03-12",
        ),
    ]  # fmt: skip


def test_a_gauge_whose_closing_check_is_missing_is_shown(cast: Cast) -> None:
    record = worked(cast)
    Standing.objects.filter(record=record).update(state="provisional", due_at=NOW + HOUR)
    assert needed(cast, "checks") == [("G-01", "1 record waits for it")]


def test_reports_never_issued_or_changed_since_are_shown(cast: Cast) -> None:
    worked(cast)
    report = built(cast)
    assert needed(cast, "reports") == [("Report of 2026-03-04", "Never issued")]
    actions.issue_report(cast.quinn, report=report)
    assert needed(cast, "reports") == []
    climate(cast, MORNING + 3 * HOUR)
    built(cast)
    assert needed(cast, "reports") == [("Report of 2026-03-04", "The facts have changed since revision 1")]


def test_an_issued_report_that_rests_on_doubtful_records_is_shown(cast: Cast) -> None:
    record = worked(cast)
    actions.issue_report(cast.quinn, report=built(cast))
    Standing.objects.filter(record=record).update(state="in_question", reasons=["The gauge fell."])
    assert needed(cast, "doubtful-reports") == [
        ("Report of 2026-03-04", "Revision 1 tells 1 record that stands otherwise now")
    ]


def test_failed_work_is_shown_until_it_is_done(cast: Cast) -> None:
    worked(cast)
    report = built(cast)
    Job.objects.create(kind=actions.BUILD, about=str(report.pk), state="failed", last_error="No space left on device")
    assert needed(cast, "jobs") == [("Report of 2026-03-04", "No space left on device")]
    built(cast)
    assert needed(cast, "jobs") == []


def test_the_page_shows_what_needs_a_decision_with_links(cast: Cast) -> None:
    check(cast, "opening", MORNING)
    record = measure(cast, MORNING + HOUR, mean_um=45)
    client = Client()
    client.force_login(cast.quinn)
    page = client.get(reverse("decisions")).content.decode()
    raised = Nonconformance.objects.get(record=record)
    assert reverse("nonconformance", args=[raised.pk]) in page
    assert "Open nonconformances" in page


def test_it_asks_as_often_for_thirty_as_for_three(cast: Cast) -> None:
    def fill(numbers: range) -> None:
        for number in numbers:
            measure(cast, MORNING + timedelta(minutes=number), mean_um=45, seed=number)
            Certificate.objects.create(
                number=f"X-{number}", laboratory="L", issued=DAY, expires=DAY + timedelta(days=9),
                traceable_to="N", recorded_by=cast.quinn,
            ).values.create(gauge=cast.gauge)  # fmt: skip
            Gauge.objects.create(identity=f"H-{number}", kind="climate", state_since=MORNING, holder=cast.ines)
            Qualification.objects.create(
                person=cast.ines,
                scheme=scheme(f"Scheme {number}"),
                number="1",
                issued=DAY,
                expires=DAY + timedelta(days=9),
            )
            report = DailyReport.objects.create(project=cast.site.project, day=DAY + timedelta(days=number))
            Job.objects.create(kind="daily-report", about=str(report.pk), state="failed")

    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            needs.decisions(cast.quinn, NOW)
        return len(queries)

    check(cast, "opening", MORNING)
    fill(range(3))
    few = asked()
    fill(range(3, 30))
    assert asked() <= few


@pytest.mark.parametrize("name", ["ines", "clara", "audrey", "admin"])
def test_the_page_is_the_quality_managers_own(cast: Cast, name: str) -> None:
    client = Client()
    client.force_login(getattr(cast, name))
    assert client.get(reverse("decisions")).status_code == 403


def test_a_corrective_action_past_its_day_waits_for_the_quality_manager_until_it_is_done(cast: Cast) -> None:
    common = {"project": cast.site.project, "area": cast.site.area, "coat": cast.site.coats[0]}
    runs = Nonconformance.objects.create(number=1, title="Runs", raised_at=MORNING, **common)
    late, _ = say(
        cast.quinn, nonconformance=runs, kind="action", text="Gauge the tips", done_by="Foreman", due=MORNING.date()
    )
    after = MORNING + timedelta(days=1)
    assert needed(cast, "overdue-actions", MORNING) == []
    told = [("Gauge the tips", f"Foreman was to have it done by {MORNING.date()}")]
    assert needed(cast, "overdue-actions", after) == told
    done, _ = say(cast.ines, nonconformance=runs, kind="completed", about=late, text="Done", done_at=MORNING)
    assert needed(cast, "overdue-actions", after) == []
    take_back(cast.ines, disposition=done, reason="only half of them")
    assert needed(cast, "overdue-actions", after) == told
    take_back(cast.quinn, disposition=late, reason="of another job")
    assert needed(cast, "overdue-actions", after) == []
