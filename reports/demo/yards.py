"""The demo's fourth and fifth project: a lighter's ballast tanks in a dry dock, and a yard of penstock pipes.

Both are planned at the beginning, approved by their parties, and worked on between the shifts of the other projects.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

from inspection.holdpoints import actions as holdpoints
from inspection.plan import revisions
from inspection.plan.lines import LineSent, put_lines
from inspection.projects import actions as projects
from inspection.projects import parties
from inspection.projects.models import InspectionArea, Project
from reports.demo import plot
from reports.demo.planned import approve, film_line, papers_line, read_areas, steel_line

if TYPE_CHECKING:
    from reports.demo.story import Story

YARDS = BALLAST, PIPES = "ballast", "pipes"
FACES = {
    "B": ("Bottom plating", "180", "96", "60"),
    "S": ("Side shell", "140", "64", "44"),
    "L": ("Longitudinal bulkhead", "140", "64", "44"),
    "D": ("Underside of the deck", "165", "90", "52"),
}
RACKS, PIPES_A_RACK = 6, 10


def open_yards(story: Story) -> None:
    with story.at(story.moment(plot.SET_UP_DAYS_AGO - 1, "11:00")):
        _ballast(story)
    with story.at(story.moment(plot.SET_UP_DAYS_AGO - 1, "13:00")):
        _pipes(story)


def _ballast(story: Story) -> None:
    """Three tanks of four faces each; the film through both coats decides, and the class society attends."""
    tove = story.person["tove"]
    project = _opened(
        story, BALLAST, code="HLV-02", name="Lighter Halvard, ballast tanks", client=plot.SHIP_OWNER,
        members=("jonas", "runa", "mikkel"),
    )  # fmt: skip
    register = story.organisation[plot.CLASS_SOCIETY]
    parties.add_party(tove, project=project, organisation=register, kind="class")
    projects.add_member(tove, project=project, person=story.person["oskar"], role=plot.PEOPLE["oskar"][2])
    projects.add_structure(tove, project=project, name="Hull", description="Three double-bottom ballast tanks.")
    system = "Two-coat ballast tank"
    projects.add_system(
        tove, project=project, name=system, preparation_grade="Sa 2½", profile_min_nm=30_000, profile_max_nm=75_000,
        salts_max_mg_m2=Decimal(50), coats=[replace(plot.TANK_COATS[0], decides=False), plot.TANK_COATS[1]],
    )  # fmt: skip
    read_areas(
        story, project,
        [
            f"Hull;Tank {tank};{tank}-{face};{name};{m2};{edges};{welds};plate;{system}"
            for tank in ("1P", "1S", "2C")
            for face, (name, m2, edges, welds) in FACES.items()
        ],
    )  # fmt: skip
    lines = [
        papers_line(),
        steel_line("2", "Blasted steel accepted", "Sa 2½, profile 30 to 75 µm", client="H", **{"class": "W"}),
        film_line("3", "First coat and its stripe coat", "for control only", 1, client="W"),
        film_line("4", "Coating accepted", "IMO PSPC, 90/10 on 320 µm", 2, client="H", **{"class": "H"}),
    ]
    _planned(story, project, "Inspection and test plan, ballast tanks", lines, by=("runa", "oskar"))


def _pipes(story: Story) -> None:
    """Sixty pipes on six racks, inside and outside, judged by the owner's own rule."""
    tove = story.person["tove"]
    project = _opened(
        story, PIPES, code="TBH-12", name="Penstock pipe yard", client=plot.OTHER_OWNER,
        members=("priya", "lars", "mikkel"),
    )  # fmt: skip
    projects.add_structure(tove, project=project, name="Pipes", description="Penstock pipes, 1.2 m, 6 m long.")
    for name, coats in plot.PIPE_SYSTEMS.items():
        projects.add_system(
            tove, project=project, name=name, preparation_grade="Sa 2½", profile_min_nm=50_000,
            profile_max_nm=100_000, coats=coats,
        )  # fmt: skip
    outside, inside = plot.PIPE_SYSTEMS
    read_areas(
        story, project,
        [
            f"Pipes;Rack {rack};P{rack}{number:02}-{side};Pipe {rack}{number:02}, {words};{m2};0;6;pipe;{system}"
            for rack in range(1, RACKS + 1)
            for number in range(1, PIPES_A_RACK + 1)
            for side, words, m2, system in (("O", "outside", "22.6", outside), ("I", "inside", "21.9", inside))
        ],
    )  # fmt: skip
    lines = [
        papers_line(),
        steel_line("2", "Blasted steel accepted", "Sa 2½, profile 50 to 100 µm", client="W"),
        film_line("3", "Lining or coating accepted", "the owner's rule 14.2", 1, client="H"),
    ]
    _planned(story, project, "Inspection and test plan, pipes", lines, by=("lars",))


def _opened(story: Story, key: str, *, code: str, name: str, client: str, members: tuple[str, ...]) -> Project:
    tove = story.person["tove"]
    project = projects.open_project(
        tove, code=code, name=name, client=story.organisation[client],
        contractor=story.organisation["Holt & Arran Painters"], time_zone=plot.ZONE, unit="um", shift_starts="06:00",
    )  # fmt: skip
    for member in members:
        projects.add_member(tove, project=project, person=story.person[member], role=plot.PEOPLE[member][2])
    story.project[key] = project
    return project


def _planned(story: Story, project: Project, name: str, lines: list[LineSent], *, by: tuple[str, ...]) -> None:
    """Written, approved and applied to every area; the story knows its areas and coats from here on."""
    tove = story.person["tove"]
    revision = revisions.begin_plan(tove, project=project, name=name)
    put_lines(tove, revision=revision, lines=lines)
    revisions.ask_approval(tove, revision=revision)
    approve(story, revision, by=by)
    areas = list(InspectionArea.objects.filter(structure__project=project).select_related("system", "structure"))
    holdpoints.apply_plan(tove, project=project, areas=areas)
    key = next(key for key, each in story.project.items() if each == project)
    for area in areas:
        story.area[area.code] = area
        for coat in area.system.coats.all():
            story.coat[key, coat.order] = coat
