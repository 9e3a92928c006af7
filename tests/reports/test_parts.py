"""A day in several papers, by shift or by discipline, declared from a day on: each thing is told in one of them.

Which discipline a kind of record belongs to is common practice, no source.
"""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.test import Client

from accounts import vault
from accounts.models import JournalEntry, Letter
from inspection.diary.actions import correct_entry, write_entry
from inspection.diary.checks import EntrySent
from inspection.diary.queries import day_of
from inspection.diary.signing import sign_day
from inspection.fieldwork.kind import Discipline
from inspection.fieldwork.kinds import KINDS
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.projects.corrections import correct_project
from inspection.projects.models import Project
from reports.attention.needs import reports_to_issue
from reports.daily import actions, dividing, queries, reviewing, traced
from reports.daily.facts import DayFacts
from reports.daily.gathering import gather
from reports.daily.models import DailyReport, Reporting, ReportIssue
from reports.daily.parts import parts_of
from reports.daily.pdf import draw
from reports.verify import papers
from reports.work import jobs
from reports.work.models import Job
from tests.cast import DAY, MORNING, PASSWORD, Cast
from tests.fieldwork.test_correction_from_profile import a_profile
from tests.past_triggers import rewrite
from tests.reports.day import HOUR, check, climate, measure, worked
from tests.reports.test_content import pages
from tests.reports.test_works_told import crew_of, lot_of
from tests.works.test_lot_mixes import mixed
from tests.works.test_lots import words

pytestmark = pytest.mark.django_db
NIGHT = MORNING + 12 * HOUR


def declared(cast: Cast, one_a: str = "shift", *names: str, from_day: date = DAY, **more: Any) -> Reporting:
    named = names or (("Day", "Night") if one_a == "shift" else ())
    return dividing.declare_reporting(
        cast.quinn, project=cast.site.project, one_a=one_a, shift_names=named, from_day=from_day, **more
    )


def entered(cast: Cast, kind: str, at: datetime, **columns: object) -> Any:
    with time_machine.travel(at, tick=False):
        sent = EntrySent(**{"kind": kind, "day": DAY, **columns})
        return write_entry(cast.ines, id=new_id(), project=cast.site.project, sent=sent)[0]


def eventful(cast: Cast) -> None:
    """A day and a night: records, checks, lots, entries, a signature; corrected in the other shift, and late."""
    with time_machine.travel(MORNING + 22.5 * HOUR, tick=False):
        worked(cast)
        climate(cast, NIGHT + HOUR)
        climate(cast, MORNING + 22 * HOUR)  # 05:00 of the next date
        check(cast, "opening", NIGHT)
        measure(cast, NIGHT + 2 * HOUR, coat=2, mean_um=230)
        check(cast, "closing", NIGHT + 9 * HOUR)
        a_profile(cast)
        wrong = climate(cast, MORNING + 3 * HOUR, steel="11.0")
    with time_machine.travel(NIGHT + 4 * HOUR, tick=False):
        climate(cast, MORNING + 3 * HOUR, replaces=wrong, replacement_reason="Read from the wrong line")
    with time_machine.travel(MORNING + 30 * HOUR, tick=False):
        climate(cast, NIGHT + 6 * HOUR)
    crew = crew_of(cast)
    mixed(cast, crew.party, entered_at=MORNING)
    blasted = lot_of(cast, crew, 3, begun=3, ended=5)
    rewrite(type(blasted).objects.filter(pk=blasted.pk), activity="blast", coat=None)
    lot_of(cast, crew, 1, begun=1, ended=3)
    lot_of(cast, crew, 2, begun=13, ended=15, entered_at=NIGHT + 2 * HOUR)
    told = entered(cast, "delay", MORNING + 5 * HOUR, cause="weather", hours=Decimal(1), text="Rain")
    with time_machine.travel(NIGHT + HOUR, tick=False):
        again = EntrySent(kind="delay", day=DAY, cause="weather", hours=Decimal(2), text="Rain until noon")
        correct_entry(cast.ines, entry=told, id=new_id(), sent=again, reason="It went on")
    entered(cast, "instruction", MORNING + 6 * HOUR, who="C. Client", way="spoken", clock=time(2, 30), text="Lamps on")
    entered(cast, "narrative", MORNING + 30 * HOUR, text="Told the morning after")
    with time_machine.travel(MORNING + 30 * HOUR, tick=False):
        digest = day_of(cast.ines, cast.site.project, DAY).mine.digest
        sign_day(cast.ines, id=new_id(), project=cast.site.project, day=DAY, digest=digest, password=PASSWORD)


def everything(facts: DayFacts) -> Counter[Any]:
    """What a paper tells, thing by thing, as it tells it."""
    rows = (
        *facts.climates, *facts.thicknesses, *facts.observed, *facts.lots, *facts.mixes, *facts.batches,
        *facts.diary, *facts.corrections, *facts.photos,
    )  # fmt: skip
    made = [each.id for one in facts.instruments for each in one.checks if facts.begins <= each.at < facts.ends]
    return Counter([*rows, *made])


def facts_of(cast: Cast, part: str = "") -> DayFacts:
    return gather(Project.objects.get(pk=cast.site.project.pk), DAY, part)


@pytest.mark.parametrize("one_a", ["shift", "discipline"])
def test_every_record_of_the_day_is_told_in_exactly_one_of_its_papers(cast: Cast, one_a: str) -> None:
    eventful(cast)
    whole = everything(facts_of(cast))
    assert len(whole) == 21
    assert set(whole.values()) == {1}
    declared(cast, one_a)
    parts = [facts_of(cast, part.name) for part in parts_of(cast.site.project, DAY)]
    assert sum((everything(each) for each in parts), Counter()) == whole
    assert len({each.number for each in parts}) == len({each.digest for each in parts}) == len(parts)
    assert everything(facts_of(cast)) == whole, "the day as a whole can still be told"
    if one_a == "discipline":
        # What another paper of the day tells, none says not to be.
        preparation, coating, inspection = (" ".join(pages(draw(each))) for each in parts)
        for paper, told in ((preparation, "No climate"), (preparation, "No thickness"), (coating, "No point")):
            assert told not in paper
        assert "Other records 1" in preparation
        assert ("Climate 5 records" in coating, "Climate" in inspection) == (True, False)
        assert "None on coating was raised or closed" in coating


def test_a_shift_tells_its_hours_a_correction_stands_where_its_record_does_and_late_is_told_by_the_day(
    cast: Cast,
) -> None:
    eventful(cast)
    declared(cast)
    day, night = facts_of(cast, "Day"), facts_of(cast, "Night")
    assert (day.begins, day.ends, night.ends) == (MORNING - HOUR, night.begins, MORNING + 23 * HOUR)
    assert [f"{row.at:%d %H:%M}" for row in night.climates] == ["04 20:00", "05 01:00", "05 05:00"]
    assert [row.reason for row in day.corrections] == ["Read from the wrong line"]
    assert night.corrections == (), "corrected in the night, told with the record, once"
    # What came in after the shift but on its day is not late; what came after the day is, with when.
    assert [row.late for row in night.climates] == [None, MORNING + 30 * HOUR, None]
    assert [row.text for row in day.diary] == ["Rain until noon"]
    assert [row.text for row in night.diary] == ["Lamps on", "Told the morning after"]
    assert ([row.number for row in day.lots], [row.number for row in night.lots]) == ([1, 3], [2])
    assert [len(each.signed) for each in (day, night)] == [1, 1], "she wrote in both, and signed for the day"
    assert [row.recorded.split(",")[0] for row in day.people] == ["2 climate records"]


def test_a_night_shift_over_midnight_and_over_a_change_of_clocks_belongs_to_the_day_it_began(cast: Cast) -> None:
    # EU clocks went forward on 2026-03-29 and go back on 2026-10-25, at 01:00 UTC (Directive 2000/84/EC).
    Project.objects.filter(pk=cast.site.project.pk).update(time_zone="Europe/Oslo", shift_starts="06:00, 14:00, 22:00")
    project = Project.objects.get(pk=cast.site.project.pk)
    declared(cast, "shift", "Early", "Late", "Night", from_day=date(2026, 3, 1))
    oslo = ZoneInfo("Europe/Oslo")
    for day, hours in ((date(2026, 3, 28), [8, 8, 7]), (date(2026, 10, 24), [8, 8, 9]), (DAY, [8, 8, 8])):
        parts = parts_of(project, day)
        assert [part.name for part in parts] == ["Early", "Late", "Night"]
        assert [(part.ends - part.begins) / HOUR for part in parts] == hours
        assert all(one.ends == other.begins for one, other in pairwise(parts))
        assert (parts[0].begins, parts[-1].ends) == project.day_bounds(day)
        after_midnight = datetime(day.year, day.month, day.day, 4, tzinfo=oslo) + timedelta(days=1)
        assert [part.holds(after_midnight) for part in parts] == [False, False, True]


def test_each_kind_of_record_says_its_discipline() -> None:
    of = {each: [kind.name for kind in KINDS if kind.discipline == each] for each in Discipline}
    assert {"cleanliness", "profile", "salts", "dust"} <= {*of[Discipline.PREPARATION]}
    assert {*of[Discipline.COATING]} == {"climate", "wetfilm"}
    assert {"thickness", "pulloff"} <= {*of[Discipline.INSPECTION]}


def test_drafts_of_all_papers_with_something_in_them_are_built_reviewed_and_issued_each_for_itself(cast: Cast) -> None:
    declared(cast)
    worked(cast)
    later = MORNING + timedelta(days=1)
    (job,) = actions.queue_daily_reports(later)
    jobs.run(job.pk)
    day = DailyReport.objects.get()
    assert (day.part, day.number, str(day)) == ("Day", "P-1-20260304-day", "Daily report P-1 2026-03-04, Day")
    assert actions.queue_daily_reports(later) == [], "an empty shift has no report"
    # Asked for by hand it has one, which says so.
    _, empty = actions.queue_day(cast.quinn, project=cast.site.project, day=DAY)
    jobs.run(empty.pk)
    night = DailyReport.objects.get(part="Night")
    assert night.draft is not None
    assert "Nothing was recorded in this shift" in " ".join(pages(vault.content_of(night.draft)))
    with time_machine.travel(MORNING + 30 * HOUR, tick=False):
        climate(cast, NIGHT + HOUR)
    (again,) = actions.queue_daily_reports(MORNING + 31 * HOUR)
    assert again.about == str(night.pk), "what comes late is told in the paper of its shift"
    jobs.run(again.pk)
    night.refresh_from_db()
    with pytest.raises(Refused, match="2 papers: Day, Night; choose"):
        actions.queue_report(cast.quinn, project=cast.site.project, day=DAY)
    issue = actions.issue_report(cast.quinn, report=day)
    assert issue.file_name == "P-1-20260304-day-revision-1.pdf"
    paper = " ".join(pages(vault.content_of(issue.file)))
    for told in ("P-1-20260304-day", "Shift Day Tells of", "Shift runs 2026-03-04 06:00 to 2026-03-04 18:00"):
        assert told in paper, told
    assert Letter.objects.get().subject == "Daily report P-1-20260304-day, revision 1 issued"
    # Decisions name the paper that is to be issued, and a search finds the issued one by what it calls itself.
    assert [need.what for need in reports_to_issue(cast.quinn, later).rows] == ["Report of 2026-03-04, Night"]
    for asked in ("P-1-20260304-day", "Daily report P-1 2026-03-04, Day revision 1", "P-1 2026-03-04"):
        assert ReportIssue.objects.filter(traced.REPORT.search(asked)).get() == issue, asked
    assert not ReportIssue.objects.filter(traced.REPORT.search("P-1-20260304-night")).exists()
    # The client sees the paper that is issued, and no word of the other.
    assert queries.papers_of_day(cast.clara, day) == []
    assert [row.part for row in DailyReport.objects.visible_to(cast.clara)] == ["Day"]
    assert [(part.name, row) for part, row in queries.papers_of_day(cast.ines, day)] == [("Night", night)]
    assert ReportIssue.objects.count() == 1


def test_a_declaration_holds_from_its_day_is_taken_back_and_never_divides_what_is_issued(cast: Cast) -> None:
    project = cast.site.project
    worked(cast)
    jobs.run(actions.queue_report(cast.quinn, project=project, day=DAY).pk)
    whole = DailyReport.objects.get()
    with pytest.raises(NotAllowed):
        dividing.declare_reporting(cast.ines, project=project, one_a="day", from_day=DAY)
    for names, said in (
        (("Day",), "Name each shift: 2 begin a day, at 06:00, 18:00; 1 are"),
        (("A", "a"), "same name"),
    ):
        with pytest.raises(Refused, match=said) as refused:
            declared(cast, "shift", *names)
        assert refused.value.faults[0].field == "shift_names"
    with pytest.raises(Refused, match="reported so already"):
        declared(cast, "day")
    first = declared(cast, reason="The client’s wish")
    assert parts_of(project, DAY - timedelta(days=1))[0].name == "", "days before stay as they were"
    # The draft of the whole day is out of sight, and that of the shift in which something is recorded is built.
    whole.refresh_from_db()
    assert whole.overtaken_at
    day = DailyReport.objects.that_stand().get()
    assert day.part == "Day"
    with pytest.raises(Conflict, match="in other papers now"):
        reviewing.refuse_overtaken(whole)
    dividing.take_reporting_back(cast.quinn, reporting=first, reason="Typing")
    assert list(DailyReport.objects.that_stand()) == [whole]
    with pytest.raises(Conflict, match="taken back already"):
        dividing.take_reporting_back(cast.quinn, reporting=first, reason="Again")
    jobs.run(actions.queue_report(cast.quinn, project=project, day=DAY).pk)
    actions.issue_report(cast.quinn, report=DailyReport.objects.get(part=""))
    with pytest.raises(Conflict, match="2026-03-04 is issued, so its day stays"):
        declared(cast)
    declared(cast, from_day=DAY + timedelta(days=1))
    verbs = JournalEntry.objects.filter(verb__startswith="reporting.").order_by("pk").values_list("verb", flat=True)
    assert list(verbs) == ["reporting.declared", "reporting.taken_back", "reporting.declared"]
    assert list(papers.differences()) == []
    rewrite(Reporting.objects.filter(withdraws=None), shift_names="Other\nNames")
    assert any("shift_names is Other" in line for line in papers.differences())


def test_corrected_shift_starts_divide_drafts_again(cast: Cast) -> None:
    declared(cast)
    worked(cast)
    for job in actions.queue_day(cast.quinn, project=cast.site.project, day=DAY):
        jobs.run(job.pk)
    project = Project.objects.get(pk=cast.site.project.pk)
    correct_project(
        cast.quinn, project=project, code=project.code, name=project.name, client=project.client,
        contractor=project.contractor, time_zone=project.time_zone, unit=project.unit,
        shift_starts="06:00, 14:00, 22:00", reason="Three shifts",
    )  # fmt: skip
    project.refresh_from_db()
    assert [part.name for part in parts_of(project, DAY)] == ["Day", "Night", "Shift 3"]
    assert [row.part for row in DailyReport.objects.that_stand()] == ["Day", "Night"]
    assert gather(project, DAY, "Night").begins == MORNING + 7 * HOUR
    # Back to one shift: what was issued of the second stays, its page is there, and nothing fails for it.
    night = DailyReport.objects.get(part="Night")
    jobs.run(actions.queue_report(cast.quinn, project=project, day=DAY, part="Night").pk)
    night.refresh_from_db()
    actions.issue_report(cast.quinn, report=night)
    correct_project(
        cast.quinn, project=project, code=project.code, name=project.name, client=project.client,
        contractor=project.contractor, time_zone=project.time_zone, unit=project.unit, shift_starts="06:00",
        reason="One shift",
    )  # fmt: skip
    for job in Job.objects.filter(state="queued"):
        jobs.run(job.pk)
    assert not Job.objects.filter(state="failed").exists()
    assert [row.part for row in DailyReport.objects.visible_to(cast.clara)] == ["Night"]
    client = Client()
    client.force_login(cast.quinn)
    assert client.get(f"/reports/{night.pk}/").status_code == 200


def test_page_and_api_declare_show_and_take_back(cast: Cast) -> None:
    quinn, ines = Client(), Client()
    quinn.force_login(cast.quinn)
    ines.force_login(cast.ines)
    project = cast.site.project
    page, api = f"/projects/{project.pk}/reporting/", f"/api/projects/{project.pk}/reporting/"
    assert "Daily reports" in words(quinn.get(f"/projects/{project.pk}/"))
    assert "in the order of 06:00, 18:00" in words(quinn.get(page))
    wrong = quinn.post(page, {"one_a": "shift", "shift_names": "Day", "from_day": "2026-03-04"})
    assert (wrong.status_code, "1 are named" in words(wrong)) == (422, True)
    sent = {"one_a": "shift", "shift_names": "Day\nNight", "from_day": "2026-03-04", "reason": "As agreed"}
    assert quinn.post(page, sent).status_code == 302
    shown = words(quinn.get(page))
    assert "One paper a shift" in shown
    assert "Stands Take it back" in shown
    row = ines.get(api).json()[0]
    assert (row["one_a"], row["shift_names"], row["withdraws"]) == ("shift", ["Day", "Night"], None)
    worked(cast)
    answer = quinn.post("/reports/", {"project": project.pk, "day": "2026-03-04"}, follow=True)
    assert "the 2 drafts of the day" in words(answer)
    assert "Other papers of the day: Night" in words(answer)
    listed = quinn.get("/api/reports/").json()["results"]
    assert sorted((each["part"], each["number"]) for each in listed) == [
        ("Day", "P-1-20260304-day"), ("Night", "P-1-20260304-night"),
    ]  # fmt: skip
    assert quinn.get(f"/reporting/{row['id']}/take-back/").status_code == 200
    back = quinn.post(f"/api/reportings/{row['id']}/take-back/", {"reason": "x"}, content_type="application/json")
    assert (back.status_code, back.json()["withdraws"]) == (200, row["id"])
    sent = {"one_a": "discipline", "from_day": "2026-03-04"}
    assert quinn.post(api, sent, content_type="application/json").status_code == 201
    assert ines.post(api, sent, content_type="application/json").status_code == 403
    assert "Preparation all of the day" in words(quinn.get(page))
