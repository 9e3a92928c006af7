"""Reading a photo: told by its bytes, decoded whole, turned upright, and made anew without position and camera data."""

from __future__ import annotations

import io
import struct
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from pathlib import PurePath
from zoneinfo import ZoneInfo

import pillow_heif
from PIL import ExifTags, Image, ImageCms, ImageOps

from inspection.foundation.refusals import Fault, Refused

pillow_heif.register_heif_opener()

MOST_BYTES = 25 * 1024 * 1024
# What one picture may unpack to. A JPEG is read at a smaller scale, so it may be larger.
MOST_PIXELS, MOST_PIXELS_OF_JPEG = 50_000_000, 120_000_000
Image.MAX_IMAGE_PIXELS = MOST_PIXELS_OF_JPEG
# The longer side of what is shown on a page, and of what is shown among others, in pixels.
PAGE, SMALL = 1600, 320
QUALITY = 82
SUFFIXES = {
    "jpeg": (".jpg", ".jpeg", ".jpe", ".jfif"), "png": (".png",), "webp": (".webp",),
    "heic": (".heic", ".heif", ".hif"),
}  # fmt: skip
HEIC_BRANDS = {b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1"}
MEDIA_TYPES = {"jpeg": "image/jpeg", "png": "image/png", "webp": "image/webp", "heic": "image/heic"}
NAMES = {"jpeg": "JPEG", "png": "PNG", "webp": "WebP", "heic": "HEIC"}
FORMATS = {"jpeg": ("JPEG", "MPO"), "png": ("PNG",), "webp": ("WEBP",), "heic": ("HEIF",)}
WANTED = "Send JPEG, PNG, HEIC or WebP."


@dataclass(frozen=True)
class Picture:
    """What a photo is: its format, its sides in pixels as it is looked at, when the camera says, and what is shown."""

    format: str
    width: int
    height: int
    taken_at: datetime | None
    page: bytes
    small: bytes

    @property
    def media_type(self) -> str:
        return MEDIA_TYPES[self.format]


def read(content: bytes, *, name: str, zone: ZoneInfo, row: int | None = None) -> Picture:
    """The photo in these bytes. A time without an offset is read in the zone.

    Raises Refused, naming the file and its row, for what is no photo, another than its name says, damaged or too large.
    """
    what = format_of(content)
    if faults := _faults(content, name, what):
        raise Refused([Fault(f"{name}: {words}", "files", row) for words in faults])
    try:
        return _decoded(content, what, zone)
    except _TooManyPixels as fault:
        raise Refused(Fault(f"{name}: {fault}", "files", row)) from fault
    except Image.DecompressionBombError as fault:
        most = MOST_PIXELS_OF_JPEG // 1_000_000
        raise Refused(Fault(f"{name}: it unpacks to far more than {most} megapixels.", "files", row)) from fault
    except (OSError, SyntaxError, ValueError, RuntimeError, struct.error, EOFError) as fault:
        words = f"{name}: it is damaged or cut short and cannot be shown; send it again from the camera."
        raise Refused(Fault(words, "files", row)) from fault


def format_of(content: bytes) -> str:
    """By the first bytes; empty for anything else."""
    if content.startswith(b"\xff\xd8\xff"):
        return "jpeg"
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return "png"
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "webp"
    if content[4:8] == b"ftyp" and content[8:12] in HEIC_BRANDS:
        return "heic"
    return ""


def _faults(content: bytes, name: str, what: str) -> list[str]:
    if not content:
        return ["the file is empty; choose the photo again."]
    if len(content) > MOST_BYTES:
        return [f"it has more than {MOST_BYTES // 2**20} MB. Set the camera to a smaller size."]
    if not what:
        return [f"this is no photo that can be shown. {WANTED}"]
    suffix = PurePath(name).suffix.lower()
    if suffix and suffix not in SUFFIXES[what]:
        return [f"the name ends in {suffix[:12]}, but the file is a {NAMES[what]}. Send it under its right name."]
    return []


class _TooManyPixels(Exception):
    pass


def _decoded(content: bytes, what: str, zone: ZoneInfo) -> Picture:
    with Image.open(io.BytesIO(content), formats=FORMATS[what]) as image:
        most = MOST_PIXELS_OF_JPEG if what == "jpeg" else MOST_PIXELS
        if image.width * image.height > most:
            raise _TooManyPixels(
                f"it has {image.width * image.height / 1e6:.0f} megapixels; at most {most // 1_000_000} are shown. "
                "Set the camera to a smaller size."
            )
        width, height = image.size
        exif = image.getexif()
        if exif.get(ExifTags.Base.Orientation, 1) in (5, 6, 7, 8):
            width, height = height, width
        taken = _taken(exif, zone)
        if what == "jpeg":
            image.draft("RGB", (PAGE, PAGE))
        upright = _plain(ImageOps.exif_transpose(image))
    upright.thumbnail((PAGE, PAGE))
    page = _jpeg(upright)
    upright.thumbnail((SMALL, SMALL))
    return Picture(what, width, height, taken, page, _jpeg(upright))


def _plain(image: Image.Image) -> Image.Image:
    """In sRGB, on white where it lets through, with nothing of the file left but the picture."""
    profile = image.info.get("icc_profile")
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        over = image.convert("RGBA")
        image = Image.alpha_composite(Image.new("RGBA", over.size, "white"), over)
    image = image.convert("RGB")
    if profile:
        try:
            given = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            image = ImageCms.profileToProfile(image, given, ImageCms.createProfile("sRGB")) or image
        except (ImageCms.PyCMSError, OSError):
            # A profile for other colours than those of the picture: shown as it is.
            pass
    plain = Image.new("RGB", image.size)
    plain.paste(image)
    return plain


def _jpeg(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()


def _taken(exif: Image.Exif, zone: ZoneInfo) -> datetime | None:
    """When it was taken by the camera's clock; None where the file does not say, or says what is no moment."""
    inner = exif.get_ifd(ExifTags.IFD.Exif)
    said = inner.get(ExifTags.Base.DateTimeOriginal) or exif.get(ExifTags.Base.DateTime)
    try:
        local = datetime.strptime(str(said).strip("\x00 "), "%Y:%m:%d %H:%M:%S").replace(tzinfo=zone)
    except ValueError:
        return None
    offset = _offset(str(inner.get(ExifTags.Base.OffsetTimeOriginal) or ""))
    moment = local.replace(tzinfo=offset) if offset else local
    return moment if 1990 <= local.year <= 2200 else None


def _offset(text: str) -> timezone | None:
    try:
        hours, minutes = text.strip("\x00 ").replace("Z", "+00:00").split(":")
        size = timedelta(hours=abs(int(hours)), minutes=int(minutes))
        return timezone(-size if hours.startswith("-") else size)
    except ValueError:
        return None


def position_in(content: bytes) -> tuple[float, float] | None:
    """Latitude and longitude in degrees that the file carries, north and east positive; None where there is none."""
    what = format_of(content)
    try:
        with Image.open(io.BytesIO(content), formats=FORMATS[what]) as image:
            told = image.getexif().get_ifd(ExifTags.IFD.GPSInfo)
        north = _degrees(told[ExifTags.GPS.GPSLatitude], told.get(ExifTags.GPS.GPSLatitudeRef) == "S")
        east = _degrees(told[ExifTags.GPS.GPSLongitude], told.get(ExifTags.GPS.GPSLongitudeRef) == "W")
    except (KeyError, OSError, SyntaxError, ValueError, TypeError, ZeroDivisionError, struct.error):
        return None
    return (north, east) if abs(north) <= 90 and abs(east) <= 180 else None


def _degrees(parts: tuple[float, float, float], negative: bool) -> float:
    degrees, minutes, seconds = (float(part) for part in parts)
    return (-1 if negative else 1) * (degrees + minutes / 60 + seconds / 3600)


def smaller(content: bytes, longest: int) -> bytes:
    """A JPEG of ours, at most so many pixels along its longer side; the same bytes each time."""
    with Image.open(io.BytesIO(content)) as image:
        image.draft("RGB", (longest, longest))
        small = image.convert("RGB")
    small.thumbnail((longest, longest))
    out = io.BytesIO()
    small.save(out, "JPEG", quality=80, optimize=True)
    return out.getvalue()
