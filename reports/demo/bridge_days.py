"""Two days of the bridge as its inspector wrote them: who and what was there, signed; one put right the day after."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any

from inspection.diary.actions import correct_entry, mark_read, write_entry
from inspection.diary.checks import EntrySent
from inspection.diary.models import DiaryEntry
from inspection.diary.queries import day_of
from inspection.diary.signing import sign_day
from inspection.foundation.ids import new_id
from inspection.projects.models import Project
from inspection.works.models import Crew
from reports.demo import lots, plot

if TYPE_CHECKING:
    from reports.demo.story import Story

FIRST, SECOND = 2, 1
SCAFFOLDERS = "Fell Brook Scaffolding"


def play(story: Story, project: Project) -> None:
    """The first day is as it was signed; of the second a crew was counted wrongly, and put right after signing."""
    painters = project.parties.get(kind="contractor")
    _first_day(story, project, painters)
    _second_day(story, project, painters)


def _first_day(story: Story, project: Project, painters: Any) -> None:
    with story.at(story.moment(FIRST, "16:05")):
        _write(story, project, FIRST, "crew", party=painters, people=5, hours=Decimal(9), text="Containment of span 1")
        _write(story, project, FIRST, "crew", organisation=SCAFFOLDERS, people=3, hours=Decimal("4.5"),
               text="Third lift of the scaffold at pier 1")  # fmt: skip
        _write(story, project, FIRST, "equipment", who="Compressor 1, 11 m³/min", state="idle", hours=Decimal(9),
               party=painters)  # fmt: skip
        _write(story, project, FIRST, "instruction", who="Signe Brandal", organisation=plot.BRIDGE_OWNER,
               way="meeting", clock=plot.clock("09:30"),
               text="Bearings of pier 2 are to be covered before anything is blasted in span 1.")  # fmt: skip
        _write(story, project, FIRST, "delay", cause="access", hours=Decimal("2.5"), organisation=SCAFFOLDERS,
               clock=plot.clock("07:00"), text="The third lift was not handed over before half past nine.")  # fmt: skip
        _write(
            story,
            project,
            FIRST,
            "narrative",
            text="Containment closed on the north girder; no blasting. Scaffold handed over with a day's tag.",
        )
        _write(story, project, FIRST, "plan", text="Blast S1-N01 and S1-N02 from 07:00, if the steel stays dry.")
        note = _write(
            story, project, FIRST, "handover", text="The gate of the compound is locked at 18:00; key at the office."
        )
    with story.at(story.moment(FIRST, "16:20")):
        _sign(story, project, FIRST)
    with story.at(story.moment(FIRST, "17:30")):
        mark_read(story.person["tove"], entry=note)


def _second_day(story: Story, project: Project, painters: Any) -> None:
    crew = Crew.objects.select_related("party").get(project=project, name=lots.CREW)
    with story.at(story.moment(SECOND, "16:40")):
        counted = _write(story, project, SECOND, "crew", crew=crew, people=6, hours=Decimal("8.75"), text="Blasting")
        _write(story, project, SECOND, "equipment", who="Compressor 1, 11 m³/min", state="working", hours=Decimal(8),
               party=painters)  # fmt: skip
        _write(story, project, SECOND, "equipment", who="Dehumidifier 2", state="down", party=painters,
               text="Trips after some minutes; a fitter comes tomorrow.")  # fmt: skip
        _write(story, project, SECOND, "visitor", who="Signe Brandal", organisation=plot.BRIDGE_OWNER,
               clock=plot.clock("10:15"), text="Looked at the blasted steel of S1-N01.")  # fmt: skip
        _write(story, project, SECOND, "delay", cause="weather", hours=Decimal("1.25"), clock=plot.clock("13:10"),
               text="Shower; the containment was wet at its east end.")  # fmt: skip
        _write(
            story,
            project,
            SECOND,
            "narrative",
            text="S1-N01 and S1-N02 blasted, ended 15:40. East end dried and blown off again after the shower.",
        )
        _write(story, project, SECOND, "plan", text="Primer on S1-N01 from 07:20.")
    with story.at(story.moment(SECOND, "16:55")):
        _sign(story, project, SECOND)
    with story.at(story.moment(SECOND, "17:20")):
        _write(story, project, SECOND, "handover", who_writes="tove",
               text="Read the margin at station CS-1 before the primer goes on: dehumidifier 2 is down.")  # fmt: skip
    with story.at(story.moment(0, "06:10")):
        sent = EntrySent(kind="crew", day=counted.day, crew=crew, people=5, hours=Decimal("8.75"), text="Blasting")
        correct_entry(
            story.person["priya"], entry=counted, id=new_id(), sent=sent, reason="One of them was on span 4 all day."
        )


def _write(
    story: Story, project: Project, days_ago: int, kind: str, *, who_writes: str = "priya", **columns: Any
) -> DiaryEntry:
    sent = EntrySent(kind=kind, day=story.day(days_ago), **columns)
    return write_entry(story.person[who_writes], id=new_id(), project=project, sent=sent)[0]


def _sign(story: Story, project: Project, days_ago: int) -> None:
    priya, day = story.person["priya"], story.day(days_ago)
    digest = day_of(priya, project, day).mine.digest
    sign_day(priya, id=new_id(), project=project, day=day, digest=digest, password=plot.PASSWORD)
