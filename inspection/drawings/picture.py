"""Reading the file of a drawing: told by its bytes, and a picture made of it to show, and a small one for phones."""

from __future__ import annotations

import io
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from PIL import Image

from inspection.foundation.refusals import Fault, Refused
from inspection.photos import picture as photos

PDF = "pdf"
WANTED = "Send the drawing as PDF, PNG, JPEG, WebP or HEIC."
# What a phone takes along of one drawing: at most so many bytes, tried from large and clear to small and coarse.
SMALL_BYTES = 40_000
SMALL_TRIES = ((1000, 55), (800, 50), (640, 50), (640, 35), (480, 35), (360, 25), (240, 15))
UTC = ZoneInfo("UTC")


@dataclass(frozen=True)
class Sheet:
    """What a drawing's file is. Without a picture its sides are 0 and its pictures empty."""

    format: str
    width: int = 0
    height: int = 0
    page: bytes = b""
    small: bytes = b""

    @property
    def media_type(self) -> str:
        return "application/pdf" if self.format == PDF else photos.MEDIA_TYPES[self.format]


def format_of(content: bytes) -> str:
    return PDF if content.startswith(b"%PDF-") else photos.format_of(content)


def read(content: bytes, *, name: str, page: int = 1) -> Sheet:
    """The drawing in these bytes. Raises Refused naming the file for what is none, damaged, or too large."""
    if wrong := _wrong(content):
        raise Refused(Fault(f"{name}: {wrong}", "file"))
    if format_of(content) == PDF:
        return Sheet(PDF)
    try:
        read = photos.read(content, name=name, zone=UTC)
    except Refused as refusal:
        raise Refused([Fault(fault.message, "file") for fault in refusal.faults]) from None
    return Sheet(read.format, read.width, read.height, read.page, small_of(read.page))


def _wrong(content: bytes) -> str:
    if not content:
        return "the file is empty; choose the drawing again."
    if len(content) > photos.MOST_BYTES:
        return f"it has more than {photos.MOST_BYTES // 2**20} MB. Send the one sheet, or scan it smaller."
    return "" if format_of(content) else f"this is no drawing that can be kept. {WANTED}"


def small_of(page: bytes) -> bytes:
    """A WebP of at most `SMALL_BYTES`, as large as fits."""
    with Image.open(io.BytesIO(page)) as image:
        whole = image.convert("RGB")
    content = b""
    for longest, quality in SMALL_TRIES:
        small = whole.copy()
        small.thumbnail((longest, longest))
        out = io.BytesIO()
        small.save(out, "WEBP", quality=quality, method=4)
        content = out.getvalue()
        if len(content) <= SMALL_BYTES:
            break
    return content
