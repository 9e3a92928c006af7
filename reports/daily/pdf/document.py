"""The daily report as a PDF: pages, head and foot. The same facts and stamp give the same bytes."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from typing import Any

from reportlab import rl_config
from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate

from inspection.fieldwork.kind import Discipline
from inspection.foundation.charts import BOLD, QUIET, REGULAR, RULE, register_fonts
from reports.daily.facts import DayFacts, Stamp
from reports.daily.pdf import (
    annex_part,
    chain_part,
    diary_part,
    evidence_part,
    extent_part,
    site_part,
    thickness_part,
    works_part,
)
from reports.daily.pdf.pieces import Heading

# Streams as bytes: written and read faster than as letters, and a fifth smaller.
rl_config.useA85 = 0
WIDTH, HEIGHT = A4
SIDE, TOP, FOOT = 15 * mm, 20 * mm, 17 * mm
TOTAL = "total"


OF_DISCIPLINE: dict[Callable[[DayFacts], list[Flowable]], Discipline] = {
    site_part.climate: Discipline.COATING, site_part.work: Discipline.INSPECTION,
    thickness_part.thickness: Discipline.INSPECTION, evidence_part.points: Discipline.INSPECTION,
}  # fmt: skip


def draw(facts: DayFacts, stamp: Stamp | None = None) -> bytes:
    """The report's bytes: an issued revision with its stamp, or a draft without."""
    register_fonts()
    out = BytesIO()
    document = _Document(out, facts, stamp)
    document.build(story(facts, stamp))
    return out.getvalue()


def story(facts: DayFacts, stamp: Stamp | None) -> list[Flowable]:
    """The parts in the order they are read."""
    parts: tuple[Callable[[DayFacts], list[Flowable]], ...] = (
        site_part.at_a_glance, site_part.people, diary_part.diary, site_part.work, works_part.progress,
        site_part.climate,
        works_part.before_paint, works_part.paint, works_part.lots,
        works_part.wet_paint, thickness_part.thickness, thickness_part.charts,
        works_part.dry_paint, evidence_part.instruments,
        chain_part.chains,
        evidence_part.points, evidence_part.nonconformances, extent_part.extents, evidence_part.rework,
        evidence_part.corrections,
        evidence_part.notices, diary_part.signatures,
    )  # fmt: skip
    # What another paper of the day tells, this one does not say to be none.
    own = (part for part in parts if part not in OF_DISCIPLINE or facts.tells(OF_DISCIPLINE[part]))
    told = [flowable for part in own for flowable in part(facts)]
    ended = [*evidence_part.sign_off(facts, stamp), *annex_part.readings(facts)]
    return [*site_part.head(facts, stamp), *told, *ended]


class _Document(BaseDocTemplate):
    def __init__(self, out: BytesIO, facts: DayFacts, stamp: Stamp | None) -> None:
        title = f"Daily report {facts.number}"
        super().__init__(
            out, pagesize=A4, invariant=1, title=title, author=facts.company,
            subject=f"{facts.project_name}, {facts.day}", creator="Stripecoat", lang="en",
            keywords=stamp.journal_head if stamp else "",
        )  # fmt: skip
        self.facts, self.stamp = facts, stamp
        # Over all facts, so taken once and not on every page.
        self.digest = facts.digest
        self.name = f"{title} · {f'Revision {stamp.revision}' if stamp else 'Draft'}"
        frame = Frame(SIDE, FOOT, WIDTH - 2 * SIDE, HEIGHT - TOP - FOOT, 0, 0, 0, 0)
        self.addPageTemplates(PageTemplate(frames=[frame], onPage=self.furnish))

    def furnish(self, canvas: Canvas, _: Any) -> None:
        """Head, foot and, on a draft, the word across the page; drawn before the content, so beneath it."""
        if self.stamp is None:
            canvas.saveState()
            canvas.setFillColor(HexColor("#e4e9ec"))
            canvas.setFont(BOLD, 110)
            canvas.translate(WIDTH / 2, HEIGHT / 2)
            canvas.rotate(52)
            canvas.drawCentredString(0, -40, "DRAFT")
            canvas.restoreState()
        canvas.setFillColor(QUIET)
        canvas.setStrokeColor(RULE)
        canvas.setLineWidth(0.6)
        canvas.setFont(REGULAR, 7.5)
        canvas.drawString(SIDE, HEIGHT - 13 * mm, self.facts.company)
        canvas.drawRightString(WIDTH - SIDE, HEIGHT - 13 * mm, self.name)
        canvas.line(SIDE, HEIGHT - 15 * mm, WIDTH - SIDE, HEIGHT - 15 * mm)
        canvas.line(SIDE, 13.5 * mm, WIDTH - SIDE, 13.5 * mm)
        canvas.setFont(REGULAR, 6)
        canvas.drawString(SIDE, 10 * mm, f"SHA-256 of the facts: {self.digest}")
        if self.stamp and self.stamp.journal_head:
            canvas.drawString(SIDE, 7.2 * mm, f"When it was issued: {self.stamp.journal_head}")
        canvas.setFont(REGULAR, 7.5)
        canvas.drawRightString(WIDTH - SIDE - 17, 10 * mm, f"Page {canvas.getPageNumber()} of")
        canvas.doForm(TOTAL)

    def afterFlowable(self, flowable: Any) -> None:  # noqa: N802 - reportlab calls it
        if isinstance(flowable, Heading):
            key = f"section {flowable.text}"
            self.canv.bookmarkPage(key)
            self.canv.addOutlineEntry(flowable.text, key, 0)

    def _endBuild(self) -> None:  # noqa: N802 - reportlab calls it
        # The number of pages is known only now; every page has already placed this form.
        self.canv.beginForm(TOTAL)
        self.canv.setFillColor(QUIET)
        self.canv.setFont(REGULAR, 7.5)
        self.canv.drawString(WIDTH - SIDE - 15, 10 * mm, str(self.page))
        self.canv.endForm()
        super()._endBuild()
