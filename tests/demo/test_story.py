"""The story that the demo plays, from set-up to recall, looked at as each of its people would.

The scenario is invented and checks nothing about the standards; what is checked is that the rooms work together.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.db import transaction
from django.test import Client
from django.urls import reverse

from accounts import vault
from accounts.models import JournalEntry, Letter, Person
from inspection.diary.queries import day_of
from inspection.drawings.queries import notes_of
from inspection.fieldwork.climate.logger_files import window_of
from inspection.fieldwork.climate.models import LoggerFile
from inspection.fieldwork.models import ClimateRecord, ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Refused
from inspection.holdpoints import actions as holdpoints
from inspection.holdpoints import evidence
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.instruments import actions as instruments
from inspection.instruments.actions import PointSent
from inspection.instruments.models import Certificate, Verification
from inspection.instruments.site_checks import SITE_CHECKS
from inspection.nonconformance.models import Nonconformance
from inspection.notices.models import Notice
from inspection.photos.models import Photo
from inspection.plan.models import Plan, PlanRevision
from inspection.projects.models import Project
from inspection.recall import actions as recalls
from inspection.recall.batches import touched_by_batch
from inspection.standards import calculate
from inspection.standing.models import Standing
from inspection.works.models import PaintBatch
from inspection.works.paint.queries import batches_now, batches_seen, mixes_now, mixes_seen
from reports.attention import reminders
from reports.daily import actions as reports
from reports.daily.gathering import gather
from reports.daily.models import DailyReport, ReportIssue
from reports.demo import plot
from reports.demo.story import Story
from reports.questions.models import ReadingQuestion

# A Wednesday at noon; the platform's shift is open.
NOW = datetime(2026, 3, 25, 11, 0, tzinfo=UTC)

# Each test's own transaction lies within the one that holds the scenario.
pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def story(django_db_setup: None, django_db_blocker: pytest.FixtureRequest) -> Iterator[Story]:
    """The whole scenario, played once for this file and rolled back after it."""
    with django_db_blocker.unblock(), transaction.atomic():
        played = Story(now=NOW)
        played.play()
        yield played
        transaction.set_rollback(True)


@pytest.fixture(autouse=True)
def _at_noon(story: Story) -> Iterator[None]:
    with time_machine.travel(NOW, tick=True):
        yield


def records(story: Story, area: str, coat: int) -> list[ThicknessRecord]:
    """All measurements of the area after the coat, oldest first."""
    return list(
        ThicknessRecord.objects.filter(area=story.area[area], coat__order=coat)
        .select_related("standing")
        .order_by("taken_at")
    )


def point(story: Story, area: str, coat: int) -> HoldPoint:
    return HoldPoint.objects.get(area=story.area[area], coat__order=coat)


def test_every_coat_of_every_area_has_been_measured_and_judged(story: Story) -> None:
    records = ThicknessRecord.objects.filter(project__code__in=("VST-03", "TBH-11")).select_related("area", "coat")
    measured = {(record.area.code, record.coat.order) for record in records}
    platform = {(area, coat) for area in plot.PLATFORM_AREAS for coat in (1, 2, 3)}
    tank = {(area, coat) for area in plot.TANK_AREAS for coat in (1, 2)}
    assert measured == platform | tank
    assert set(ThicknessRecord.objects.values_list("calculation", flat=True)) == {
        "dft-pa2", "dft-iso19840", "dft-imo-pspc", "dft-custom"
    }  # fmt: skip
    assert not ThicknessRecord.objects.filter(verdict="incomplete").exists()


def test_every_stored_verdict_is_found_again_from_its_stored_inputs(story: Story) -> None:
    for record in ThicknessRecord.objects.all():
        assert calculate(record.calculation, record.inputs) == record.result
    for check in Verification.objects.select_related("gauge"):
        assert calculate(SITE_CHECKS[check.gauge.kind].calculation, check.inputs) == check.result


def test_the_thin_primer_failed_was_repaired_and_passed_and_its_nonconformance_closed(story: Story) -> None:
    thin, repaired = records(story, "LP-W", 1)
    assert (thin.verdict, repaired.verdict) == ("fail", "pass")
    raised = Nonconformance.objects.get(record=thin)
    assert raised.state == "closed"
    assert raised.closing_record == repaired
    assert "second full coat" in raised.repair


def test_the_gauge_that_fell_puts_its_shift_in_question_with_the_reason_in_words(story: Story) -> None:
    thickness, measured_again = records(story, "LP-W", 3)
    (left_so,) = records(story, "PR-1", 3)
    for record in (thickness, left_so):
        assert record.standing.state == "in_question"
        assert any("check after work" in reason and "suspect" in reason for reason in record.standing.reasons)
        assert any(
            "incident with the gauge was reported, such as a fall" in reason for reason in record.standing.reasons
        )
    assert measured_again.standing.state == "sound"


def test_the_open_shift_is_provisional_until_its_closing_check(story: Story) -> None:
    (today,) = records(story, "CW-1", 3)
    assert today.standing.state == "provisional"
    with time_machine.travel(NOW + timedelta(minutes=5), tick=True):
        story.verify(plot.TODAY, Verification.Purpose.CLOSING, NOW + timedelta(minutes=4), plot.GAUGES["TG-05"])
    assert Standing.objects.get(record=today).state == "sound"


def test_a_check_on_the_expired_coated_standard_is_refused_with_the_reason(story: Story) -> None:
    with pytest.raises(Refused, match="expired on") as refusal:
        instruments.record_verification(
            story.person["jonas"], id=new_id(), gauge=story.gauge["TG-05"], project=story.project["platform"],
            purpose="opening", adjustment="zero", surface="smooth", as_left=True, taken_at=NOW - timedelta(minutes=2),
            points=[PointSent([story.standard["C-075"]], [74_500, 74_600, 74_700])],
        )  # fmt: skip
    assert "RL-C02" in str(refusal.value)


def test_climate_was_judged_against_the_limits_of_the_coat(story: Story) -> None:
    for record in ClimateRecord.objects.all():
        again = calculate(
            "dew-point",
            {
                "dry_bulb_c": float(record.dry_bulb_c),
                "wet_bulb_c": float(record.wet_bulb_c or 0),
                "surface_c": float(record.surface_c),
            },
        )
        assert record.dew_point_c == pytest.approx(again["dew_point_c"])
        assert record.margin_c == pytest.approx(again["margin_c"])


def test_the_client_has_released_refused_and_still_waits(story: Story) -> None:
    states = {
        (p.area.code, p.coat.order): p.state
        for p in HoldPoint.objects.filter(project=story.project["platform"]).select_related("area", "coat")
    }
    assert states["LP-E", 3] == "refused"
    assert states["D-1", 3] == states["LP-W", 1] == "released"
    assert states["LP-W", 3] == states["PR-1", 3] == states["CW-1", 3] == "waiting"


def test_a_point_in_question_and_a_provisional_one_cannot_be_released_but_a_sound_one_can(story: Story) -> None:
    edda = story.person["edda"]

    def release(area: str) -> None:
        its = point(story, area, 3)
        shown = evidence.evidence_of(its)
        holdpoints.release(edda, point=its, password=plot.PASSWORD, evidence_digest=shown.digest)

    for area in ("PR-1", "CW-1"):
        with pytest.raises(Refused), transaction.atomic():
            release(area)
        assert point(story, area, 3).state == "waiting"
    release("LP-W")
    assert point(story, "LP-W", 3).state == "released"


def test_each_client_sees_their_own_board_only(story: Story) -> None:
    for key, project, own, foreign in (("edda", "platform", "D-1", "ST-F"), ("lars", "tank", "ST-F", "D-1")):
        client = Client()
        client.force_login(Person.objects.get(pk=story.person[key].pk))
        board = client.get(_address("board"), {"project": str(story.project[project].pk)}).content.decode()
        assert own in board
        assert foreign not in board + client.get(_address("board")).content.decode()


def _address(name: str, *args: object) -> str:
    from django.urls import reverse

    return reverse(name, args=args)


@pytest.mark.parametrize(
    ("key", "landing"),
    [("jonas", "today"), ("tove", "decisions"), ("edda", "board"), ("benoit", "trace"), ("ruth", "people")],
)
def test_each_person_lands_on_what_they_came_for(story: Story, key: str, landing: str) -> None:
    client = Client()
    client.force_login(Person.objects.get(pk=story.person[key].pk))
    answer = client.get("/", follow=True)
    assert answer.status_code == 200
    assert answer.request["PATH_INFO"] == _address(landing)


def test_the_late_climate_record_made_a_second_revision_and_left_the_first_as_it_was(story: Story) -> None:
    report = DailyReport.objects.get(project=story.project["platform"], day=story.day(15))
    first, second = report.issues.order_by("revision").select_related("file")
    assert (first.revision, second.revision) == (1, 2)
    assert "late" in second.reason
    assert first.file.digest != second.file.digest
    for issue in (first, second):
        assert vault.content_of(issue.file).startswith(b"%PDF")


def test_a_report_was_reviewed_issued_and_answered_and_the_bridge_reports_by_discipline(story: Story) -> None:
    report = DailyReport.objects.get(project=story.project["platform"], day=story.day(22))
    assert [review.by.name for review in report.reviews.all()] == ["Priya Nandal"]
    issue = report.issues.get()
    assert [word.what for word in issue.words.order_by("at")] == ["comment", "signed"]
    facts = gather(report.project, report.day)
    assert (facts.order_number, bool(facts.logo), facts.address.splitlines()[1]) == ("VST-2207-C", True, "3187 Ormsund")
    drafts = DailyReport.objects.filter(project=story.project["bridge"], day=story.day(1)).exclude(draft=None)
    assert [row.part for row in drafts] == ["Preparation", "Coating", "Inspection"]


def test_issuing_the_same_facts_again_is_refused(story: Story) -> None:
    report = DailyReport.objects.get(project=story.project["platform"], day=story.day(22))
    with pytest.raises(Refused), transaction.atomic():
        reports.issue_report(story.person["tove"], report=report, reason="Again")


def test_the_clients_people_were_written_to_about_each_issue_once(story: Story) -> None:
    issues = ReportIssue.objects.filter(report__project=story.project["platform"]).count()
    letters = Letter.objects.filter(recipient=plot.email("edda"), subject__icontains="report")
    assert letters.count() == issues
    assert not Letter.objects.filter(recipient=plot.email("lars"), body__icontains="VST-03").exists()


def test_reminders_go_once_each_to_those_responsible(story: Story) -> None:
    before = set(Letter.objects.values_list("pk", flat=True))
    reminders.remind(NOW)
    new = Letter.objects.exclude(pk__in=before)
    about_shims = new.filter(body__contains="RL-SA08")
    assert set(about_shims.values_list("recipient", flat=True)) == {plot.email("tove"), plot.email("jonas")}
    count = new.count()
    reminders.remind(NOW)
    assert Letter.objects.exclude(pk__in=before).count() == count


def test_withdrawing_a_certificate_lists_and_changes_all_it_touches(story: Story) -> None:
    certificate = Certificate.objects.get(number="RL-SA08")
    client = Client()
    client.force_login(Person.objects.get(pk=story.person["tove"].pk))
    preview = client.get(_address("recall", certificate.pk)).content.decode()
    assert Standing.objects.filter(record__gauge__identity="TG-05", state="sound").exists()
    done = recalls.recall(
        story.person["tove"], certificate=certificate, reason="The laboratory lost its reference block"
    )
    on_set_a = Standing.objects.filter(record__gauge__identity="TG-05").values_list("state", flat=True)
    others = Standing.objects.filter(record__gauge__identity="TG-09").values_list("state", flat=True)
    assert (set(on_set_a), set(others)) == ({"in_question"}, {"sound"})
    afterwards = client.get(_address("recalled", done.pk)).content.decode()
    for page in (preview, afterwards):
        for area in ("D-1", "D-2", "LP-E", "LP-W"):
            assert area in page


def test_the_auditor_walks_from_a_shim_to_the_reports_and_back_from_a_report_to_the_shims(story: Story) -> None:
    client = Client()
    client.force_login(Person.objects.get(pk=story.person["benoit"].pk))
    shim = story.standard["S-A125"]
    up = client.get(_address("trace_of", "standard", shim.pk)).content.decode()
    for reached in ("RL-SA08", "TG-05", "D-1", "Finish accepted", "Daily report VST-03"):
        assert reached in up
    issue = DailyReport.objects.get(project=story.project["platform"], day=story.day(22)).issues.get()
    down = client.get(_address("trace_of", "report", issue.pk)).content.decode()
    for reached in ("S-A125", "RL-SA08", "TG-05"):
        assert reached in down
    assert "S-B125" not in down


def test_everything_that_happened_is_in_the_journal_and_matches_its_digest(story: Story) -> None:
    from accounts.journal import entry_digest

    assert JournalEntry.objects.count() > 100
    for entry in JournalEntry.objects.all():
        assert entry_digest(entry) == entry.digest


def test_five_projects_of_four_clients_were_played(story: Story) -> None:
    assert Project.objects.values("client").distinct().count() == 4
    assert story.area["D-1"].area_m2 == Decimal("9.5")


def test_the_bridge_has_four_hundred_areas_and_the_points_of_an_approved_plan(story: Story) -> None:
    points = HoldPoint.objects.filter(project=story.project["bridge"])
    # One panel has a repaired part, with the one point of the coat that was found thin.
    [part] = points.filter(area__repair_of__isnull=False)
    assert (part.area.code, part.coat.name) == ("S3-N07 / repair 1", "Primer")
    points = points.exclude(pk=part.pk)
    assert points.values("area").distinct().count() == 400
    states = Counter(points.values_list("state", flat=True))
    assert states == {"waiting": 4 * 400 - 4, "waived": 2, "refused": 1, "closed": 1}
    revision = PlanRevision.objects.get(plan__project=story.project["bridge"])
    assert (revision.state, revision.approvals.count()) == ("in_force", 2)
    client = Client()
    client.force_login(story.person["mikkel"])
    assert client.get("/").status_code in (200, 302)


def test_the_bridge_has_a_climate_station_with_a_night_of_its_logger(story: Story) -> None:
    [file] = LoggerFile.objects.filter(station__project=story.project["bridge"])
    assert (file.station.code, file.rows) == ("CS-1", 168)
    window = window_of(file.station, file.first_at, file.last_at)
    assert window is not None
    assert 0 < window.judged.all.within_pct < 100
    assert not window.judged.gaps


def test_two_days_of_the_bridge_are_signed_and_one_was_changed_after(story: Story) -> None:
    project, priya = story.project["bridge"], story.person["priya"]
    first, second = (day_of(priya, project, story.day(days_ago)) for days_ago in (2, 1))
    assert [each.since for each in first.signed] == [""]
    assert [each.since for each in second.signed] == ["1 diary entry added; 1 diary entry corrected or withdrawn"]
    assert first.totals.lost == [("Access or scaffold", "Fell Brook Scaffolding", Decimal("2.5"))]
    assert [each.entry.entered_by.name for each in second.notes] == ["Tove Aldring"]


def test_the_ballast_tanks_wait_for_the_class_society_and_their_refused_steel_for_the_blasters(story: Story) -> None:
    points = HoldPoint.objects.filter(project=story.project["ballast"])
    assert points.values("area").distinct().count() == 12
    said = {
        (row.point.area.code, row.point.line.number, row.outcome)
        for row in Decision.objects.filter(point__in=points).select_related("point__area", "point__line")
    }
    assert {("1P-B", "2", "released"), ("1P-L", "2", "refused"), ("1P-B", "4", "released")} <= said
    # The client has accepted the coating; the class society, which holds the line too, has not said a word.
    assert points.get(area__code="1P-B", line__number="4").state == HoldPoint.State.WAITING


def test_a_pipe_lined_too_thin_fails_by_the_owners_own_rule(story: Story) -> None:
    records = ThicknessRecord.objects.filter(project=story.project["pipes"])
    assert {record.area.code: record.verdict for record in records.select_related("area")} == {
        "P101-O": "pass", "P101-I": "pass", "P102-O": "pass", "P102-I": "pass", "P103-O": "fail", "P103-I": "pass",
    }  # fmt: skip


def test_the_bridge_has_drawn_photos_a_nonconformance_a_question_a_template_and_an_auditor(story: Story) -> None:
    project = story.project["bridge"]
    photos = Photo.objects.filter(project=project, shown=True)
    assert {photo.format for photo in photos} == {"png"}
    assert sorted(bool(photo.record_id) for photo in photos) == [False, True]
    [thin, raised] = Nonconformance.objects.filter(project=project).order_by("number")
    assert (thin.state, [str(part) for part in thin.repaired_parts.all()]) == ("open", ["S3-N07 / repair 1"])
    said = list(raised.dispositions.order_by("at").values_list("kind", flat=True))
    assert (raised.state, raised.lot.number) == ("open", 1)
    assert said == ["grade", "contained", "answer", "decision", "action"]
    [question] = ReadingQuestion.objects.filter(state="open")
    assert (question.kind, question.record.project) == ("repeated", project)
    template = Plan.objects.get(project=None)
    assert template.revisions.get().lines.count() == 5
    client = Client()
    client.force_login(story.person["benoit"])
    lot = project.lots.get(activity="coat")
    assert client.get(reverse("trace_of", args=["lot", lot.pk])).status_code == 200
    counts = touched_by_batch(PaintBatch.objects.get(project=project, number="ZA-2207")).counts
    assert (counts["mixes"], counts["lots"], counts["areas"]) == (1, 1, 1), "the demo can show a recall"


def test_the_bridge_has_a_drawing_in_two_revisions_with_its_panels_and_two_notes(story: Story) -> None:
    drawing = story.project["bridge"].drawings.get()
    assert [(each.revision, each.format, each.has_picture) for each in drawing.revisions.all()] == [
        ("A", "pdf", True), ("B", "pdf", True),
    ]  # fmt: skip
    assert drawing.areas.exclude(x=None).count() == 50
    seen = {name: notes_of(story.person[name], drawing) for name in ("priya", "signe", "mikkel")}
    assert {name: [note.number for note in notes] for name, notes in seen.items()} == {
        "priya": [1, 2], "signe": [1, 2], "mikkel": [1],
    }  # fmt: skip


def test_the_bridge_has_notices_in_time_short_moved_held_and_withdrawn(story: Story) -> None:
    notices = Notice.objects.filter(project=story.project["bridge"]).order_by("number")
    told = [(notice.state, notice.sequence, notice.short_hours) for notice in notices]
    assert told == [
        ("held", 0, None), ("standing", 0, None), ("standing", 1, None), ("withdrawn", 1, None),
        ("standing", 0, Decimal("10.5")),
    ]  # fmt: skip
    assert {notice.places.count() for notice in notices} == {25}


def test_the_bridge_has_paint_in_quarantine_and_extended_and_a_mix_that_says_what_it_was_made_of(story: Story) -> None:
    project = story.project["bridge"]
    rows = list(batches_seen(story.person["tove"], project.pk))
    now = {each.batch.number: each.fitness for each in batches_now(rows)}
    assert (now["ZA-2208"].in_quarantine, now["ZB-1131"].words[:8], now["ZA-2207"].is_fit) == (True, "Extended", True)
    first, second = mixes_now(mixes_seen(story.person["mikkel"], project.pk).order_by("number"), story.now)
    assert (first.unfit, first.mix.gone_over, first.mix.deviation_pct) == ([], [], 0)
    assert second.state[1] == "Made of a batch in quarantine"
    assert second.mix.reason
