"""How a report of a day, or of a shift or discipline of it, is numbered; its files are called by that."""

from __future__ import annotations

from datetime import date

from django.utils.text import slugify


def slug_of(part: str) -> str:
    """A part's name as it stands in the numbers of papers and in names of files."""
    return slugify(part, allow_unicode=True)


def number_of(code: str, day: date, part: str) -> str:
    return f"{code}-{day:%Y%m%d}{'-' if part else ''}{slug_of(part)}"
