"""The demo's third project: a bridge of 400 areas, with a plan that its client approved and points planned from it."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from inspection.foundation.ids import new_id
from inspection.holdpoints import actions as holdpoints
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.models import HoldPoint
from inspection.notices import actions as notices
from inspection.notices.actions.giving import Sent
from inspection.notices.models import Notice
from inspection.plan import revisions
from inspection.plan.calendar import put_calendar
from inspection.plan.lines import put_lines
from inspection.plan.models import PlanRevision
from inspection.projects import actions as projects
from inspection.projects.models import InspectionArea, Project
from inspection.works import crews, planning, shifts
from reports.demo import bridge_climate, bridge_days, bridge_drawing, bridge_evidence, lots, paint, plot, reporting
from reports.demo.planned import approve, film_line, papers_line, read_areas, steel_line

if TYPE_CHECKING:
    from reports.demo.story import Story

SPANS, PARTS_A_SPAN = 8, 50
SOMEWHERE = "Foot of the stair tower at pier 3"
CREW = "Day crew"
HOUR = timedelta(hours=1)


def play(story: Story) -> Project:
    """Open the bridge, read its areas from a table, write its plan and have it approved, and let the client decide."""
    with story.at(story.moment(plot.BRIDGE_DAYS_AGO, "09:00")):
        project = _opened(story)
        _areas_read(story, project)
    with story.at(story.moment(plot.BRIDGE_DAYS_AGO, "10:00")):
        revision = _plan_written(story, project)
    with story.at(story.moment(plot.BRIDGE_DAYS_AGO, "14:00")):
        approve(story, revision, by=("signe",))
        areas = InspectionArea.objects.in_use().filter(structure__project=project).order_by("code")
        holdpoints.apply_plan(story.person["tove"], project=project, areas=list(areas))
        _crew_planned(story, project)
        _calendar_kept(story, project)
        reporting.by_discipline(story, project)
    called = Notices(story, project)
    called.first_day()
    with story.at(story.moment(plot.BRIDGE_DAYS_AGO - 1, "11:00")):
        _decided(story, project)
    called.second_day()
    paint.play(story, project)
    lots.play(story, project)
    bridge_climate.play(story, project)
    bridge_evidence.play(story, project)
    bridge_drawing.play(story, project)
    bridge_days.play(story, project)
    reporting.drafted(story, project, bridge_days.SECOND)
    return project


def _opened(story: Story) -> Project:
    tove, painters = story.person["tove"], story.organisation["Holt & Arran Painters"]
    project = projects.open_project(
        tove, code="FSB-07", name="Fossum road bridge", client=story.organisation[plot.BRIDGE_OWNER],
        contractor=painters, time_zone=plot.ZONE, unit="um", shift_starts="06:00",
    )  # fmt: skip
    for member in ("priya", "signe", "mikkel", "benoit"):
        projects.add_member(tove, project=project, person=story.person[member], role=plot.PEOPLE[member][2])
    projects.add_structure(
        tove, project=project, name="Bridge", description="Two plate girders with cross beams, eight spans."
    )
    projects.add_system(
        tove, project=project, name="Three-coat road bridge", preparation_grade="Sa 2½", profile_min_nm=50_000,
        profile_max_nm=85_000, coats=plot.PLATFORM_COATS,
    )  # fmt: skip
    return project


def _areas_read(story: Story, project: Project) -> None:
    """Each panel under its span and girder."""
    rows = []
    for span in range(1, SPANS + 1):
        for part in range(1, PARTS_A_SPAN + 1):
            girder, number = ("north", part) if part <= PARTS_A_SPAN // 2 else ("south", part - PARTS_A_SPAN // 2)
            code = f"S{span}-{girder[0].upper()}{number:02}"
            rows.append(
                f"Bridge;Span {span} / Girder {girder};{code};Panel {number} of the {girder} girder;12.5;6;4;beam;"
                "Three-coat road bridge"
            )
    read_areas(story, project, rows)


def _plan_written(story: Story, project: Project) -> PlanRevision:
    tove = story.person["tove"]
    revision = revisions.begin_plan(tove, project=project, name="Inspection and test plan, steelwork")
    put_lines(
        tove,
        revision=revision,
        lines=[
            papers_line(),
            steel_line("2", "Blasted steel accepted", "Sa 2½, profile 50 to 85 µm", client="W"),
            film_line("3.1", "Primer accepted", "SSPC-PA 2, level 3", 1, client="H"),
            film_line("3.2", "Build coat accepted", "ISO 19840", 2, client="W"),
            film_line("3.3", "Finish accepted", "ISO 19840", 3, client="H"),
        ],
    )
    revisions.ask_approval(tove, revision=revision)
    return revision


def _crew_planned(story: Story, project: Project) -> None:
    tove, priya = story.person["tove"], story.person["priya"]
    party = project.parties.get(kind="inspection")
    crew = crews.add_crew(tove, project=project, party=party, name=CREW)
    begun = story.moment(plot.BRIDGE_DAYS_AGO - 1, "06:00")
    crews.add_people(tove, crew=crew, people=[priya], begun_at=begun)
    first, last = story.day(plot.BRIDGE_DAYS_AGO - 1), story.day(-12)
    worked = planning.Pattern(
        first=first, last=last, weekdays=frozenset(range(5)), begins=plot.clock("06:00"), ends=plot.clock("16:00")
    )
    shifts.plan_shifts(tove, crew=crew, spans=planning.shifts_of(worked, project))


def _calendar_kept(story: Story, project: Project) -> None:
    """The bridge is worked on every day; whoever holds is called 48 hours before, whoever witnesses 24."""
    leads = {"hold": (48, "hours"), "witness": (24, "hours")}
    put_calendar(story.person["tove"], project=project, weekdays="1234567", closed={}, leads=leads)


class Notices:
    """Notices of the bridge: in time, short, moved, held, withdrawn."""

    held: Notice

    def __init__(self, story: Story, project: Project) -> None:
        self.story, self.project = story, project

    def first_day(self) -> None:
        day = plot.BRIDGE_DAYS_AGO
        with self.story.at(self.story.moment(day, "15:00")):
            self.held = self._given("priya", "2", "S1-N", (day - 1, "15:30"), 1)
        with self.story.at(self.story.moment(day, "15:10")):
            signed = self._given("mikkel", "3.1", "S2-N", (-1, "10:00"), 3, note="Lamps are there; bring harnesses.")
        with self.story.at(self.story.moment(day, "17:00")):
            notices.acknowledge(self.story.person["signe"], notice=signed)

    def second_day(self) -> None:
        day, priya, mikkel = plot.BRIDGE_DAYS_AGO - 1, self.story.person["priya"], self.story.person["mikkel"]
        with self.story.at(self.story.moment(day, "12:10")):
            moved = self._given("mikkel", "3.1", "S3-S", (-2, "08:00"), 2)
            withdrawn = self._given("mikkel", "3.1", "S4-S", (-2, "15:00"), 2)
        with self.story.at(self.story.moment(day, "16:00")):
            begin = self.story.moment(-2, "13:00")
            notices.move_notice(
                mikkel, notice=moved, begins_at=begin, ends_at=begin + 2 * HOUR, meeting_place=SOMEWHERE, sequence=0,
                reason="The containment of span 3 is moved in the morning.",
            )  # fmt: skip
        with self.story.at(self.story.moment(day, "17:00")):
            notices.record_outcome(priya, notice=self.held, outcome="held", reason="All panels of the row looked at.")
        with self.story.at(self.story.moment(day, "18:00")):
            notices.withdraw_notice(mikkel, notice=withdrawn, reason="Rain is forecast for the whole day.")
        with self.story.at(self.story.moment(day, "18:30")):
            self._given("priya", "3.1", "S5-N", (-1, "08:00"), 2, confirmed=True)

    def _given(
        self, who: str, number: str, codes: str, begins: tuple[int, str], hours: int, *, note: str = "",
        confirmed: bool = False,
    ) -> Notice:  # fmt: skip
        """Of a line at the panels whose codes begin so, where it waits; `begins` counts days back from the last."""
        begin = self.story.moment(*begins)
        points = HoldPoint.objects.filter(project=self.project, line__number=number, area__code__startswith=codes)
        sent = Sent(
            begins_at=begin, ends_at=begin + hours * HOUR, meeting_place=SOMEWHERE, note=note,
            points=list(points.filter(state=HoldPoint.State.WAITING)),
        )  # fmt: skip
        person = self.story.person[who]
        given, _ = notices.give_notice(person, id=new_id(), project=self.project, sent=sent, confirmed=confirmed)
        return given


def _decided(story: Story, project: Project) -> None:
    """The client waives two panels that nobody can reach, and refuses one; one panel gets no finish."""
    signe, tove = story.person["signe"], story.person["tove"]
    at_primer = HoldPoint.objects.filter(project=project, line__number="3.1")
    for code in ("S1-N01", "S1-S01"):
        point = at_primer.get(area__code=code)
        holdpoints.waive(
            signe, point=point, password=plot.PASSWORD, evidence_digest=evidence_of(point).digest,
            reason="Behind the abutment; accepted by the photographs of the foreman.",
        )  # fmt: skip
    refused = at_primer.get(area__code="S1-N02")
    holdpoints.refuse(
        signe, point=refused, password=plot.PASSWORD, evidence_digest=evidence_of(refused).digest,
        reason="Overspray on the bolts; clean and present again.",
    )  # fmt: skip
    unfinished = HoldPoint.objects.get(project=project, line__number="3.3", area__code="S8-S25")
    holdpoints.close_point(tove, point=unfinished, reason="Cast into the wing wall; gets no finish.")
