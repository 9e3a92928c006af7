"""Text that people type, made fit to keep: trimmed, without control characters, not longer than its column."""

from __future__ import annotations

import unicodedata

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from accounts.refusals import Fault, Refused


def line(value: str, *, field: str, most: int, needed: bool = True) -> str:
    """One line of text. Raises Refused when it is empty but needed, too long, or holds control characters."""
    text = str(value).strip()
    if any(unicodedata.category(char) in {"Cc", "Cs"} for char in text):
        raise Refused(Fault("Use plain text on one line; control characters cannot be kept.", field))
    if needed and not text:
        raise Refused(Fault("Fill this in.", field))
    if len(text) > most:
        raise Refused(Fault(f"This has {len(text)} characters; at most {most} can be kept.", field))
    return text


def email_address(value: str, *, field: str = "email") -> str:
    """The address in lower case, since nobody has two that differ only in that. Raises Refused when it is none."""
    text = line(value, field=field, most=254).lower()
    try:
        validate_email(text)
    except ValidationError:
        raise Refused(Fault(f"“{text[:80]}” is not an e-mail address, such as name@example.com.", field)) from None
    return text
