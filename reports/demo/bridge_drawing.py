"""The bridge's drawing, drawn here: two revisions of it, the panels it shows, and what was noted on it."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from reportlab.lib.pagesizes import A3, landscape
from reportlab.pdfgen.canvas import Canvas

from inspection.drawings import actions, noting
from inspection.drawings.actions import Placed
from inspection.drawings.noting import NoteSent
from inspection.foundation.attachments import UploadedContent
from inspection.foundation.ids import new_id
from inspection.projects.models import InspectionArea, Project
from reports.demo import plot

if TYPE_CHECKING:
    from reports.demo.story import Story

NUMBER, TITLE = "FSB-07-S-101", "Girders of span 1, panels"
PANELS, DAY = 25, 1
WIDE, HIGH = landscape(A3)
# Where the girders lie on the sheet, in points: left edge, width of a panel, lower edges, height.
LEFT, PANEL, HEIGHT = 60, 43, 220
GIRDERS = {"N": 530, "S": 200}


def play(story: Story, project: Project) -> None:
    tove, priya, signe = (story.person[name] for name in ("tove", "priya", "signe"))
    with story.at(story.moment(plot.BRIDGE_DAYS_AGO, "16:00")):
        first, _ = actions.add_drawing(
            tove, id=new_id(), project=project, number=NUMBER, title=TITLE, revision="A", file=_sheet("A")
        )
        areas = {area.code: area for area in InspectionArea.objects.filter(structure__project=project).select_related(
            "structure__project")}  # fmt: skip
        shown = [Placed(areas[code], *place) for code, place in places().items()]
        actions.set_areas(tove, drawing=first.drawing, areas=shown)
    with story.at(story.moment(DAY, "08:00")):
        revision, _ = actions.revise_drawing(tove, drawing=first.drawing, id=new_id(), revision="B", file=_sheet("B"))
    x, y = places()["S1-N02"]
    found = NoteSent(
        text="Rust bloom on the lower flange, to be swept before the primer.", at=story.moment(0, "06:05"),
        x=x, y=y + 1_200, area=areas["S1-N02"],
    )  # fmt: skip
    with story.at(story.moment(0, "06:15")):
        note, _ = noting.write_note(priya, id=new_id(), revision=revision, sent=found)
        noting.show_note(priya, note=note, shown=True)
    x, y = places()["S1-S25"]
    asked = NoteSent(
        text="The steelwork list calls this panel S1-S25a. Which code goes into the reports?",
        at=story.moment(0, "07:00"), x=x, y=y, area=areas["S1-S25"],
    )  # fmt: skip
    with story.at(story.moment(0, "07:05")):
        noting.write_note(signe, id=new_id(), revision=revision, sent=asked)


def places() -> dict[str, tuple[int, int]]:
    """The middle of each panel by its code, in parts of 10,000 from top left."""
    return {
        f"S1-{girder}{number:02}": (
            round((LEFT + (number - 0.5) * PANEL) / WIDE * 10_000), round((HIGH - low - HEIGHT / 2) / HIGH * 10_000),
        )
        for girder, low in GIRDERS.items() for number in range(1, PANELS + 1)
    }  # fmt: skip


def _sheet(revision: str) -> UploadedContent:
    """Both girders in elevation, panel by panel, as a PDF; revision B has the openings for the drains besides."""
    out = io.BytesIO()
    sheet = Canvas(out, pagesize=(WIDE, HIGH), invariant=1)
    sheet.setTitle(f"{NUMBER} revision {revision}")
    sheet.rect(30, 30, WIDE - 60, HIGH - 60)
    for girder, low in GIRDERS.items():
        sheet.setFont("Helvetica-Bold", 14)
        sheet.drawString(LEFT, low + HEIGHT + 12, f"Girder {'north' if girder == 'N' else 'south'}, span 1")
        for flange in (low, low + HEIGHT - 14):
            sheet.rect(LEFT, flange, PANELS * PANEL, 14)
        for number in range(1, PANELS + 1):
            left = LEFT + (number - 1) * PANEL
            sheet.rect(left, low, PANEL, HEIGHT)
            sheet.setFont("Helvetica", 9)
            sheet.drawCentredString(left + PANEL / 2, low + 24, f"{girder}{number:02}")
            if revision == "B" and number % 6 == 3:
                sheet.circle(left + PANEL / 2, low + 50, 9)
    sheet.setFont("Helvetica", 11)
    sheet.drawString(60, 60, f"{NUMBER}   {TITLE}   Revision {revision}   Invented, to no scale")
    sheet.save()
    return UploadedContent(f"{NUMBER}-{revision}.pdf", out.getvalue())
