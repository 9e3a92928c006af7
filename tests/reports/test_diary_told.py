"""The diary in a day's report: who and what was there, hours, signatures; never a note to the next shift."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import time_machine

from inspection.diary.actions import correct_entry, withdraw_entry, write_entry
from inspection.diary.checks import EntrySent
from inspection.diary.models import DiaryEntry
from inspection.diary.queries import day_of
from inspection.diary.signing import sign_day
from inspection.foundation.ids import new_id
from inspection.projects.models import Party
from reports.daily import actions
from reports.daily.gathering import gather
from reports.daily.models import DailyReport
from tests.cast import DAY, MORNING, PASSWORD, Cast
from tests.reports.test_content import facts_of, told

HOUR = timedelta(hours=1)


def write(cast: Cast, kind: str, **columns: object) -> DiaryEntry:
    sent = EntrySent(**{"kind": kind, "day": DAY, **columns})
    return write_entry(cast.ines, id=new_id(), project=cast.site.project, sent=sent)[0]


def test_the_report_tells_who_and_what_was_there_and_who_signed(cast: Cast) -> None:
    project = cast.site.project
    before = gather(project, DAY).digest
    party = Party.objects.get(project=project, kind=Party.Kind.INSPECTION)
    with time_machine.travel(MORNING + 10 * HOUR, tick=False):
        write(cast, "handover", text="The gate sticks.")
        # A day of nothing but a note to the next shift has nothing new to tell a client.
        assert gather(project, DAY).digest == before
        crew = write(cast, "crew", party=party, people=4, hours=Decimal(8), text="Blasting")
        again = EntrySent(kind="crew", day=DAY, party=party, people=6, hours=Decimal("7.5"))
        correct_entry(cast.ines, entry=crew, id=new_id(), sent=again, reason="two came late")
        write(cast, "crew", organisation="Scaffolders", people=2, hours=Decimal(3))
        write(cast, "delay", cause="weather", hours=Decimal("2.5"), text="Rain")
        write(cast, "delay", cause="weather", hours=Decimal(1))
        write(cast, "instruction", who="C. Client", way="meeting", text="Leave bay 3 & 4 until Friday.")
        gone = write(cast, "visitor", who="A. Surveyor", organisation="Class", text="looked round")
        withdraw_entry(cast.ines, entry=gone, reason="another day")
        digest = day_of(cast.ines, project, DAY).mine.digest
        sign_day(cast.ines, id=new_id(), project=project, day=DAY, digest=digest, password=PASSWORD)
    facts = facts_of(cast)
    assert [(row.whose, row.people, row.hours) for row in facts.person_hours] == [
        ("Scaffolders", 2, 6.0), ("The Company", 6, 45.0),
    ]  # fmt: skip
    assert [(row.cause, row.whose, row.hours) for row in facts.hours_lost] == [("Weather", "", 3.5)]
    assert [row.since for row in facts.signed] == [""]
    assert [(row.name, row.recorded) for row in facts.people] == [("Ines Inspector", "5 diary notes")]
    text = told(cast)
    for words in (
        "Who and what was there", "The Company, 6 people, 7.5 h each", "Corrected: two came late.", "Weather: 3.5 h",
        "Leave bay 3 & 4 until Friday.", "Signed by those who recorded", "Ines Inspector, The Company", "as signed",
    ):  # fmt: skip
        assert words in text, words
    assert "The gate sticks." not in text
    assert "Surveyor" not in text

    # The next morning a narrative is still to be written: told late, and the signature tells of it.
    with time_machine.travel(MORNING + 25 * HOUR, tick=False):
        write(cast, "narrative", text="Blasting went on until the rain came.")
    text = told(cast)
    assert "Entered 2026-03-05 08:00, after the day had ended." in text
    assert "changed after signing: 1 diary entry added" in text
    # A day of nothing but entries has its draft built by itself, also one of long ago that was entered late.
    actions.queue_daily_reports(MORNING + 24 * HOUR * 7.5)
    assert DailyReport.objects.filter(project=project, day=DAY).exists()
    old = DAY - timedelta(days=40)
    with time_machine.travel(MORNING + 30 * HOUR, tick=False):
        write(cast, "delay", cause="access", hours=Decimal(1), day=old)
    actions.queue_daily_reports(MORNING + 48 * HOUR)
    assert DailyReport.objects.filter(project=project, day=old).exists()
