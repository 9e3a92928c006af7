"""A notice in words, as letters and appointments tell it."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple

from inspection.notices.lead import hours_told
from inspection.notices.models import Notice


class Of(NamedTuple):
    """What is inspected under one title, and where: the first codes, and how many areas there are."""

    title: str
    areas: int
    first: tuple[str, ...] = ()

    def __str__(self) -> str:
        more = self.areas - len(self.first)
        where = ", ".join(self.first) + (f" and {more:,} more" if more else "")
        return f"{self.title}: {'1 area' if self.areas == 1 else f'{self.areas:,} areas'} ({where})"


def m2(value: Decimal) -> str:
    return f"{value.normalize():f} m²"


def size(notice: Notice) -> str:
    """The m² of its areas, beside those that its giver told."""
    whole = m2(notice.area_m2)
    return f"{m2(notice.told_m2)} of {whole}" if notice.told_m2 not in (None, notice.area_m2) else whole


def when(notice: Notice) -> str:
    zone = notice.project.zone
    begin, end = (at.astimezone(zone) for at in (notice.begins_at, notice.ends_at))
    until = f"{end:%H:%M}" if end.date() == begin.date() else f"{end:%A %Y-%m-%d %H:%M}"
    return f"{begin:%A %Y-%m-%d %H:%M} to {until} ({notice.project.time_zone})"


def short(notice: Notice) -> str:
    """That the notice is short, and by how much; empty for one in time."""
    if not notice.short_hours or not notice.due_by:
        return ""
    due = f"{notice.due_by.astimezone(notice.project.zone):%Y-%m-%d %H:%M}"
    return f"Short notice: by {hours_told(notice.short_hours)}. It was in time until {due}."


def telling(notice: Notice, of: Sequence[Of]) -> str:
    lines = [
        f"When: {when(notice)}", f"Where to meet: {notice.meeting_place}", *(f"{each}" for each in of),
        f"Surface: {size(notice)}", f"Given by: {notice.signed_as}", short(notice), notice.note,
    ]  # fmt: skip
    return "\n".join(line for line in lines if line)
