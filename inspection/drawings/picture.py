"""Reading the file of a drawing: told by its bytes, and a picture made of it to show, and a small one for phones."""

from __future__ import annotations

import io
import subprocess
import sys
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from PIL import Image

from inspection.drawings import pages
from inspection.foundation.refusals import Fault, Refused
from inspection.photos import picture as photos

PDF = "pdf"
WANTED = "Send the drawing as PDF, PNG, JPEG, WebP or HEIC."
# What a phone takes along of one drawing: at most so many bytes, tried from large and clear to small and coarse.
SMALL_BYTES = 40_000
SMALL_TRIES = ((1000, 55), (800, 50), (640, 50), (640, 35), (480, 35), (360, 25), (240, 15))
UTC = ZoneInfo("UTC")
# What drawing one page may take, in bytes and in seconds of the processor; our own measure.
MEMORY, SECONDS = 1024**3, 20


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
        return _of_pdf(content, name, page)
    try:
        read = photos.read(content, name=name, zone=UTC)
    except Refused as refusal:
        raise Refused([Fault(fault.message, "file") for fault in refusal.faults]) from None
    return Sheet(read.format, read.width, read.height, read.page, small_of(read.page))


def _of_pdf(content: bytes, name: str, page: int) -> Sheet:
    """The page of a PDF; without a picture where it cannot be drawn, as one that asks for a password."""
    drawn = _drawn(content, page)
    if drawn is None:
        return Sheet(PDF)
    many, image = drawn
    if not image:
        words = f"{name}: it has {many} page{'' if many == 1 else 's'}; give one of them."
        raise Refused(Fault(words, "page"))
    try:
        read = photos.read(image, name="drawing.png", zone=UTC)
    except Refused:
        return Sheet(PDF)
    return Sheet(PDF, read.width, read.height, read.page, small_of(read.page))


def _drawn(content: bytes, page: int) -> tuple[int, bytes] | None:
    """How many pages there are, and the PNG of the one; drawn by a process that knows nothing of the site."""
    command = [sys.executable, "-I", pages.__file__, *map(str, (page, photos.PAGE, MEMORY, SECONDS))]
    try:
        done = subprocess.run(
            command, input=content, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env={}, timeout=2 * SECONDS,
            check=False,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return None
    many, _, image = done.stdout.partition(b"\n")
    return (int(many), image) if done.returncode == 0 and many.isdigit() else None


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
