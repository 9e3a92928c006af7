"""What may be attached, such as a certificate: told by its first bytes, never by its name or the sender's word."""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings

from inspection.foundation.refusals import Fault


@dataclass(frozen=True)
class UploadedContent:
    """A file as it was sent."""

    name: str
    content: bytes
    media_type: str = ""


SIGNATURES = (
    (b"%PDF-", "application/pdf"),
    (b"\x89PNG\r\n\x1a\n", "image/png"),
    (b"\xff\xd8\xff", "image/jpeg"),
)


def media_type_of(content: bytes) -> str:
    """PDF, PNG or JPEG by signature; empty for anything else."""
    return next((media_type for signature, media_type in SIGNATURES if content.startswith(signature)), "")


def file_faults(file: UploadedContent, what: str = "the certificate") -> list[Fault]:
    """What keeps a file from being attached."""
    most = settings.UPLOAD_MAX_BYTES
    if not file.content:
        return [Fault(f"The file is empty; choose {what} as PDF, PNG or JPEG.", "file")]
    if len(file.content) > most:
        return [Fault(f"The file is too large; at most {most // 2**20} MB are taken. Scan it smaller.", "file")]
    if not media_type_of(file.content):
        return [Fault(f"The file is neither PDF nor PNG nor JPEG; choose {what} in one of these.", "file")]
    return []
