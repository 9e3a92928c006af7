"""Text that people type, made fit to keep: trimmed, without characters that break or disguise it, not too long.

A short text (a code, a name, a number) is one line that reads as it is stored. It stands in headings, file names, mail
subjects and titles of papers, where a line break breaks the thing, and characters that are not seen or turn the
direction of what follows make two different codes look the same.
"""

from __future__ import annotations

import unicodedata

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from inspection.foundation.refusals import Fault, Refused

# Unicode categories: control, format (zero-width, soft hyphen, direction), surrogate, line and paragraph separator.
NOT_ON_A_LINE = {"Cc", "Cf", "Cs", "Zl", "Zp"}
# Seen as nothing, though Unicode counts them as letters or symbols: fillers and the empty braille cell.
SEEN_AS_NOTHING = "\u115f\u1160\u2800\u3164\uffa0\u034f"
# Embeddings, overrides and isolates of direction (UAX 9), which let a text read otherwise than it is stored.
TURNS_DIRECTION = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"


def line(value: str, *, field: str, most: int, needed: bool = True) -> str:
    """One line of text. Raises Refused when it is empty but needed, too long, or holds what `wrong_on_a_line` finds."""
    text = str(value).strip()
    if wrong := wrong_on_a_line(text):
        raise Refused(Fault(wrong, field))
    if needed and not text:
        raise Refused(Fault("Fill this in.", field))
    if len(text) > most:
        raise Refused(Fault(f"This has {len(text)} characters; at most {most} can be kept.", field))
    return text


def wrong_on_a_line(text: str) -> str:
    """What keeps a short text from being kept, as a sentence; empty when nothing does."""
    if text.isprintable() and not any(char in text for char in SEEN_AS_NOTHING):
        return ""
    for place, char in enumerate(text, start=1):
        if char in "\n\r\u2028\u2029":
            return f"Use plain text on one line; there is a line break at character {place}."
        if unicodedata.category(char) in NOT_ON_A_LINE or char in SEEN_AS_NOTHING:
            return f"Use plain text on one line; {_named(char, place)} cannot be kept."
    return ""


def wrong_in_a_note(text: str) -> str:
    """As `wrong_on_a_line`, for a text of several lines: line breaks and tabs are its own."""
    if text.isprintable():
        return ""
    for place, char in enumerate(text, start=1):
        control = unicodedata.category(char) in {"Cc", "Cs"} and char not in "\n\r\t"
        if control or char in TURNS_DIRECTION:
            return f"Use plain text; {_named(char, place)} cannot be kept."
    return ""


def on_one_line(text: str) -> str:
    """The text as a title, subject or file name can bear it, whatever was stored before this was asked of it."""
    kept = "".join(" " if unicodedata.category(char) in NOT_ON_A_LINE else char for char in text)
    return " ".join(kept.split())


def _named(char: str, place: int) -> str:
    return f"the unseen character U+{ord(char):04X} at character {place}"


def email_address(value: str, *, field: str = "email") -> str:
    """The address in lower case, since nobody has two that differ only in that. Raises Refused when it is none."""
    text = line(value, field=field, most=254).lower()
    try:
        validate_email(text)
    except ValidationError:
        raise Refused(Fault(f"“{text[:80]}” is not an e-mail address, such as name@example.com.", field)) from None
    return text
