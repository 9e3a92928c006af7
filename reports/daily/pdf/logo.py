"""The company's logo at the head of a paper: on white, as large as its place allows, the same bytes each time."""

from __future__ import annotations

import io

from PIL import Image as Picture
from reportlab.platypus import Flowable, Image, Paragraph

from accounts import vault
from accounts.models import StoredFile
from inspection.foundation.refusals import Refused
from reports.daily.pdf.pieces import SOFT

LOGO_WIDE, LOGO_TALL = 130.0, 52.0
# At this many pixels along the longer side it prints at about 300 dots per inch.
PIXELS = 540


def logo(digest: str) -> Flowable | None:
    """None where there is none; words where its file cannot be read, for a report must not wait for that."""
    if not digest:
        return None
    try:
        content = vault.content_of(StoredFile.objects.get(digest=digest))
        with Picture.open(io.BytesIO(content)) as image:
            small = image.convert("RGBA")
    except (Refused, OSError, StoredFile.DoesNotExist):
        return Paragraph("The logo is missing from the store.", SOFT)
    small.thumbnail((PIXELS, PIXELS))
    ground = Picture.new("RGB", small.size, "white")
    ground.paste(small, mask=small)
    out = io.BytesIO()
    ground.save(out, "PNG")
    scale = min(LOGO_WIDE / ground.width, LOGO_TALL / ground.height)
    return Image(io.BytesIO(out.getvalue()), ground.width * scale, ground.height * scale, hAlign="RIGHT")
