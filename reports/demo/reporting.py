"""The demo's papers: what stands at their heads, one that is reviewed, issued and answered, and one day in three."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from PIL import Image, ImageDraw

from inspection.foundation.attachments import UploadedContent
from inspection.projects.models import Project
from reports.daily import actions, answering, dividing, reviewing
from reports.daily.models import DailyReport, Reporting
from reports.demo import plot
from reports.papers.actions import enter_company_head, enter_project_head
from reports.work import jobs

if TYPE_CHECKING:
    from reports.demo.story import Story

# The shift whose report another inspector looks through, and its client answers.
REVIEWED = 22


def heads(story: Story) -> None:
    """Address and logo of the company; what the platform's papers refer to and whom they go to."""
    tove = story.person["tove"]
    logo = UploadedContent("ormsund.png", _logo())
    enter_company_head(tove, address="Slipway 4\n3187 Ormsund\npapers@example.com", logo=logo)
    enter_project_head(
        tove, project=story.project["platform"], order_number="VST-2207-C",
        references="Contract VST-2207\nCoating specification VST-S-14, revision 3",
        distribution=f"Edda Vorst, {plot.OWNER}\nOffice, {plot.COMPANY}",
    )  # fmt: skip


def _logo() -> bytes:
    """Three coats on steel, as a mark."""
    image = Image.new("RGB", (420, 160), "white")
    drawn = ImageDraw.Draw(image)
    for number, colour in enumerate(("#5b6770", "#8a9aa5", "#a4452c", "#c9d1d6")):
        drawn.rectangle((20 + 24 * number, 116 - 32 * number, 400, 140 - 32 * number), fill=colour)
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def reviewed(story: Story, report: DailyReport) -> None:
    """The inspector who measured nothing that day looks the draft through."""
    reviewing.review(
        story.person["priya"], report=report, seen=report.facts_digest, note="Compared with the gauge’s own memory."
    )


def answered(story: Story, report: DailyReport) -> None:
    """The client asks something of the issued report, and signs it."""
    edda, issue = story.person["edda"], report.issues.get()
    with story.at(story.moment(REVIEWED - 1, "11:20")):
        answering.comment(edda, issue=issue, text="Which face of dolphin 2 is spot 4 on? The thinnest spot is there.")
    with story.at(story.moment(REVIEWED - 1, "15:05")):
        answering.sign(edda, issue=issue, text="Seen with Jonas on site: the seaward face.")


def by_discipline(story: Story, project: Project) -> None:
    """The owner of the bridge wants preparation, coating and inspection in papers of their own."""
    dividing.declare_reporting(
        story.person["tove"], project=project, one_a=Reporting.OneA.DISCIPLINE,
        from_day=story.day(plot.BRIDGE_DAYS_AGO), reason="Asked for by the owner in the contract",
    )  # fmt: skip


def drafted(story: Story, project: Project, days_ago: int) -> None:
    """The drafts of a day's papers, built the morning after."""
    with story.at(story.moment(days_ago - 1, "06:20")):
        for job in actions.queue_day(story.person["tove"], project=project, day=story.day(days_ago)):
            jobs.run(job.pk)
