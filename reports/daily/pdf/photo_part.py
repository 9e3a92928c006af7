"""Photos in the report: in rows under what they are of, downscaled, with what is drawn over them."""

from __future__ import annotations

import io
from collections.abc import Collection, Sequence
from xml.sax.saxutils import escape

from reportlab.lib.colors import HexColor, white
from reportlab.lib.utils import ImageReader
from reportlab.platypus import Flowable, Paragraph

from inspection.foundation.charts import BOLD
from inspection.photos.layers import drawn
from inspection.photos.shown import print_of
from reports.daily.facts import DayFacts, PhotoTold
from reports.daily.pdf.pieces import BREADTH, SOFT, clock, subheading

A_ROW, GAP = 3, 9
WIDE = (BREADTH - (A_ROW - 1) * GAP) / A_ROW
TALL = WIDE * 3 / 4
RED = HexColor("#c00014")


def photos(facts: DayFacts, records: Collection[str]) -> list[Flowable]:
    """Those of these records, in the order they were taken; nothing where none was chosen."""
    told = [photo for photo in facts.photos if photo.record in records]
    rows = [told[n : n + A_ROW] for n in range(0, len(told), A_ROW)]
    return subheading("Photos", [_Row(facts, row) for row in rows]) if rows else []


class _Row(Flowable):
    """Up to three photos with their words. Each is read when it is drawn, so that one at a time is held unpacked."""

    def __init__(self, facts: DayFacts, row: Sequence[PhotoTold]) -> None:
        super().__init__()
        self.row = row
        self.words = [Paragraph(escape(_words(facts, photo)), SOFT) for photo in row]

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        self.under = max(words.wrap(WIDE, 1e6)[1] for words in self.words)
        self.width, self.height = BREADTH, TALL + self.under + 8
        return self.width, self.height

    def draw(self) -> None:
        for n, (photo, words) in enumerate(zip(self.row, self.words, strict=True)):
            left = n * (WIDE + GAP)
            words.drawOn(self.canv, left, self.under - words.height)
            self._picture(photo, left)

    def _picture(self, photo: PhotoTold, left: float) -> None:
        content = print_of(photo.digest)
        if content is None:
            self.canv.drawString(left, self.under + TALL / 2, "The file is missing from the store.")
            return
        image = ImageReader(io.BytesIO(content))
        across, down = image.getSize()
        scale = min(WIDE / across, TALL / down)
        wide, tall = across * scale, down * scale
        bottom = self.under + 4 + TALL - tall
        self.canv.drawImage(image, left, bottom, wide, tall)
        self._over(photo, left, bottom, wide, tall)

    def _over(self, photo: PhotoTold, left: float, bottom: float, wide: float, tall: float) -> None:
        """The shapes, each in white beneath and red above, so that they are seen on any ground."""
        canvas, unit = self.canv, max(wide, tall) / 60
        canvas.saveState()
        canvas.translate(left, bottom + tall)
        clip = canvas.beginPath()
        clip.rect(0, -tall, wide, tall)
        canvas.clipPath(clip, stroke=0, fill=0)
        for shape in drawn([each.as_sent for each in photo.shapes], wide, tall):
            for colour, line in ((white, unit / 2), (RED, unit / 4)):
                canvas.setStrokeColor(colour)
                canvas.setFillColor(colour)
                canvas.setLineWidth(line)
                if shape.shape == "circle":
                    canvas.ellipse(shape.x1, -shape.y1, shape.x2, -shape.y2)
                elif shape.shape == "arrow":
                    canvas.line(shape.x1, -shape.y1, shape.x2, -shape.y2)
                    head = canvas.beginPath()
                    head.moveTo(shape.head[0][0], -shape.head[0][1])
                    for x, y in shape.head[1:]:
                        head.lineTo(x, -y)
                    head.close()
                    canvas.drawPath(head, stroke=1, fill=1)
            self._text(shape.text, shape.text_x, -shape.text_y, shape.anchor)
        canvas.restoreState()

    def _text(self, text: str, x: float, y: float, anchor: str) -> None:
        if not text:
            return
        self.canv.setFont(BOLD, 7)
        width = self.canv.stringWidth(text, BOLD, 7)
        x -= {"start": 0, "middle": width / 2, "end": width}[anchor]
        self.canv.setFillColor(white)
        self.canv.rect(x - 1.5, y - 1.5, width + 3, 9, stroke=0, fill=1)
        self.canv.setFillColor(RED)
        self.canv.drawString(x, y, text)


def _words(facts: DayFacts, photo: PhotoTold) -> str:
    taken = f"taken {clock(facts, photo.taken_at)}" if photo.taken_at else f"received {clock(facts, photo.received_at)}"
    return f"{photo.caption + '. ' if photo.caption else ''}{photo.of}; {taken} by {photo.by}. {photo.digest[:12]}"
