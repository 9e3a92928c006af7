"""Plays a shortened demo, with what the demo leaves out, by the code of 0.1, and prints the digests of what it stored.

Run by `tests/upgrade/store.py` inside a checkout of 0.1, whose modules it names; nothing imports it.
"""

# ruff: noqa: E402 - Django is set up before its models are named
from __future__ import annotations

import json
import os
import sys
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
django.setup()

from django.db.models import Model, QuerySet

from accounts import actions as people
from accounts import chain, vault
from accounts.models import StoredFile
from inspection.fieldwork import actions as fieldwork
from inspection.fieldwork.actions import ReadingSent
from inspection.fieldwork.models import ClimateRecord, Latest, ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.holdpoints import actions as holdpoints
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.instruments.actions import StandardValue
from inspection.instruments.models import Certificate, Verification
from inspection.nonconformance import actions as nonconformance
from inspection.nonconformance.models import Disposition, Nonconformance
from inspection.projects.models import Project
from inspection.recall import actions as recall
from inspection.standing.models import Standing
from reports.daily import setting_aside
from reports.daily.against import doubts_of
from reports.daily.gathering import gather
from reports.daily.models import DailyReport, ReportIssue, SetAside
from reports.demo import plot
from reports.demo.invented_readings import GaugeBehaviour
from reports.demo.story import Story

NOW = datetime(2026, 3, 4, 12, 0, tzinfo=ZoneInfo(plot.ZONE))
PLATFORM, TANK = ("D-1", "D-2", "LP-W"), ("ST-F",)
# How the gauge that fell reads from then on.
FELL = GaugeBehaviour(1.03, 7.5, 0.5)
# Two areas after the primer, one of them too thin and done again; a build coat too thin; a tank; a gauge that fell.
SHIFTS = [
    plot.Shift(22, "platform", "jonas", "TG-05", "A", [plot.primer("D-1", "10:20"), plot.primer("D-2", "11:40", 74)]),
    plot.Shift(21, "platform", "jonas", "TG-05", "A", [plot.primer("LP-W", "13:20", 43)], 13, 6),
    plot.Shift(19, "platform", "jonas", "TG-05", "A", [plot.primer("LP-W", "12:45", 76)], 13, 5),
    plot.Shift(15, "platform", "jonas", "TG-05", "A", [plot.build("D-1", "10:15"), plot.build("D-2", "11:20", 120)]),
    plot.Shift(12, "tank", "priya", "TG-09", "B", [plot.tank("ST-F", 1, "11:00", 205)], 16, 7),
    plot.Shift(5, "platform", "priya", "TG-07", "B", [plot.finish("D-1", "10:40")], 12, 6, FELL),
]
TODAY = plot.Shift(0, "platform", "jonas", "TG-05", "A", [plot.finish("D-2", "")], 12, 4)


class Shortened(Story):
    def play(self) -> None:
        self.set_up()
        self.yard_checks(58)
        primer, thin, again, build, tank, fall = SHIFTS
        self.shift(primer)
        self.shift(thin)
        self.rework()
        self.shift(again)
        self.decide_points()
        self.issue_a_report(primer)
        self.shift(build)
        self.correct_a_record()
        self.set_aside_what_came_up()
        self.shift(tank)
        self.correct_a_certificate()
        self.concede()
        self.shift(fall)
        self.today()

    def rework(self) -> None:
        with self.at(self.moment(20, "14:00")):
            nonconformance.record_rework(
                self.person["jonas"], nonconformance=Nonconformance.objects.get(state="open"),
                what="Thin primer on LP-W: second full coat by airless spray to the whole area.",
                done_by="Holt & Arran Painters, crew 2", done_at=self.moment(20, "13:15"),
            )  # fmt: skip

    def correct_a_record(self) -> None:
        """A reading of D-2 was typed wrong; the record comes again, with the file that it is from."""
        wrong = ThicknessRecord.objects.get(area=self.area["D-2"], coat=self.coat["platform", 1])
        readings = [
            ReadingSent(spot=row.spot, order=row.order, value_nm=row.value_nm + (2_000 if row.spot == 1 else 0))
            for row in wrong.readings.all()
        ]
        table = "\n".join(f"{row.spot},{row.order},{row.value_nm / 1000}" for row in readings).encode()
        with self.at(self.moment(14, "09:00")):
            kept = vault.store(table, name="D-2 primer.csv", media_type="text/csv", by=self.person["jonas"])
            fieldwork.record_thickness(
                self.person["jonas"], id=new_id(), project=wrong.project, area=wrong.area, coat=wrong.coat,
                gauge=wrong.gauge, profile_way=wrong.profile_way, correction_nm=wrong.correction_nm, unit="um",
                readings=readings, first_reading_at=wrong.taken_at, last_reading_at=wrong.last_reading_at,
                source=ThicknessRecord.Source.FILE, file=kept, file_name="D-2 primer.csv", replaces=wrong,
                replacement_reason="The first spot was copied from another sheet",
            )  # fmt: skip

    def decide_points(self) -> None:
        """D-1 released; D-2 refused; LP-W refused, presented again, released."""
        with self.at(self.moment(17, "10:00")):
            self.decide_on("D-1", holdpoints.release)
            self.decide_on("D-2", holdpoints.refuse, reason="Sags on the lower flange. Rub down and recoat.")
            self.decide_on("LP-W", holdpoints.refuse, reason="Overspray on the flange; clean it.")
        with self.at(self.moment(16, "10:00")):
            holdpoints.present_again(
                self.person["jonas"], point=self.point("LP-W"), note="The flange has been cleaned."
            )

    def point(self, area: str) -> HoldPoint:
        return HoldPoint.objects.get(area=self.area[area], coat=self.coat["platform", 1])

    def decide_on(self, area: str, act: Any, **more: str) -> None:
        point = self.point(area)
        shown = evidence_of(point)
        act(self.person["edda"], point=point, password=plot.PASSWORD, evidence_digest=shown.digest, **more)

    def issue_a_report(self, shift: plot.Shift) -> None:
        with self.at(self.moment(16, "11:00")):
            self.report(shift, self.day(shift.days_ago), issue=True)

    def set_aside_what_came_up(self) -> None:
        issue = ReportIssue.objects.get()
        with self.at(self.moment(13, "15:00")):
            seen = setting_aside.seen_of(doubts_of([issue])[issue.pk])
            setting_aside.set_aside(
                self.person["tove"], issue=issue, reason="The client was told by telephone.", seen=seen
            )

    def correct_a_certificate(self) -> None:
        """What the tank was measured with stands otherwise by it."""
        with self.at(self.moment(10, "11:00")):
            recall.recall(
                self.person["tove"], certificate=Certificate.objects.get(number="RL-SB08", replaced_by=None),
                reason="The laboratory mixed up two lines",
                corrected=[StandardValue(self.standard["S-B250"], 262_300, 1_200)],
            )  # fmt: skip

    def concede(self) -> None:
        with self.at(self.moment(9, "11:00")):
            thin = Nonconformance.objects.filter(area=self.area["D-2"]).order_by("number").first()
            nonconformance.concede(
                self.person["edda"], nonconformance=thin, reason="The finish goes on thicker.", password=plot.PASSWORD
            )

    def today(self) -> None:
        """The open shift, and a sheet under way in it; a key for the API, kept as its digest."""
        gauge = plot.gauge_on("TG-05", 0)
        self.verify(TODAY, Verification.Purpose.OPENING, self.moment(0, "10:00"), gauge)
        self.climate(TODAY, self.moment(0, "10:10"))
        self.measure(TODAY, TODAY.works[0], self.moment(0, "10:30"), gauge)
        with self.at(self.moment(0, "11:30")):
            jonas = self.person["jonas"]
            sheet = fieldwork.open_sheet(
                jonas, id=new_id(), area=self.area["LP-W"], coat=self.coat["platform", 2], gauge=self.gauge["TG-05"],
                profile_way=ThicknessRecord.ProfileWay.ADJUSTED,
            )  # fmt: skip
            for order in (1, 2):
                fieldwork.note_reading(jonas, sheet=sheet, value_nm=250_000 + order, spot=1, order=order)
            people.make_token(jonas, name="Tablet", days=30)


def shorten_the_plot() -> None:
    plot.PLATFORM_AREAS = {code: plot.PLATFORM_AREAS[code] for code in PLATFORM}
    plot.TANK_AREAS = {code: plot.TANK_AREAS[code] for code in TANK}


def digests() -> dict[str, Any]:
    """What must be the same for ever, by ids."""

    def by_id(rows: QuerySet[Model], *names: str) -> dict[str, Any]:
        return {
            str(pk): [str(value) for value in values] for pk, *values in rows.order_by("pk").values_list("pk", *names)
        }

    return {
        "thickness": by_id(ThicknessRecord.objects.all(), "digest", "verdict", "reading_count"),
        "climate": by_id(ClimateRecord.objects.all(), "digest", "verdict"),
        "verification": by_id(Verification.objects.all(), "digest", "verdict"),
        "standing": by_id(Standing.objects.all(), "record", "state"),
        "latest": sorted(str(pk) for pk in Latest.objects.values_list("record", flat=True)),
        "point": by_id(HoldPoint.objects.all(), "state"),
        "decision": by_id(Decision.objects.all(), "outcome", "evidence_digest"),
        "evidence": {str(point.pk): evidence_of(point).digest for point in HoldPoint.objects.order_by("pk")},
        "nonconformance": by_id(Nonconformance.objects.all(), "number", "state"),
        "disposition": by_id(Disposition.objects.all(), "kind"),
        "draft": by_id(DailyReport.objects.all(), "facts_digest", "draft"),
        "facts": {
            f"{project.code} {day}": gather(project, day).digest
            for project in Project.objects.order_by("code")
            for day in sorted({project.day_of(at) for at in project.records.values_list("taken_at", flat=True)})
        },
        "issue": by_id(ReportIssue.objects.all(), "revision", "facts_digest", "file"),
        "set_aside": by_id(SetAside.objects.all(), "reason"),
        "file": by_id(StoredFile.objects.all(), "size"),
        "head": str(chain.head()),
    }


if __name__ == "__main__":
    shorten_the_plot()
    story = Shortened(NOW)
    story.play()
    chain.link(everything=True)
    with story.at(NOW):
        Path(sys.argv[1]).write_text(json.dumps(digests(), indent=1) + "\n", encoding="utf-8")
