"""Reads of printed sheets. They start from what the person may see."""

from __future__ import annotations

import re
from dataclasses import dataclass

from django.db.models import Count, Exists, OuterRef, Q, QuerySet

from accounts.models import Person
from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.printed.actions import LENGTH, LETTERS
from inspection.fieldwork.printed.models import PrintedArea, PrintedSheet

TYPED = re.compile(rf"([{LETTERS}]{{{LENGTH}}})(?:[^0-9A-Z]*(\d{{1,3}}))?")


@dataclass(frozen=True)
class AreaShown:
    """One area of a sheet, and the record that was entered from it."""

    printed: PrintedArea
    record: ThicknessRecord | None


def sheets_seen(person: Person) -> QuerySet[PrintedSheet]:
    """With how many areas each has, and how many of those were entered."""
    stored = ThicknessRecord.objects.filter(pk=OuterRef("areas"), area=OuterRef("areas__area"))
    rows = PrintedSheet.objects.visible_to(person).select_related("project", "printed_by", "withdrawn_by")
    rows = rows.annotate(area_count=Count("areas"), entered_count=Count("areas", filter=Q(Exists(stored))))
    return rows.order_by("-printed_at", "-pk")


def areas_of(sheet: PrintedSheet) -> list[AreaShown]:
    """In the order of the paper; two queries however many."""
    rows = sheet.areas.select_related("sheet__project", "area__structure", "area__section", "coat__system")
    rows = rows.order_by("number")
    records = ThicknessRecord.objects.select_related("project", "taken_by").in_bulk([row.pk for row in rows])
    return [AreaShown(row, _of_its_area(row, records.get(row.pk))) for row in rows]


def entered_from(printed: PrintedArea) -> ThicknessRecord | None:
    """The record that was entered from the paper of one area."""
    stored = ThicknessRecord.objects.filter(pk=printed.pk).select_related("project", "taken_by").first()
    return _of_its_area(printed, stored)


def _of_its_area(printed: PrintedArea, record: ThicknessRecord | None) -> ThicknessRecord | None:
    """Ids are the senders': one of another area, or of another project, under this id was not read off this paper."""
    return record if record is not None and record.area_id == printed.area_id else None


def by_code(person: Person, typed: str) -> tuple[PrintedSheet | None, int | None]:
    """The sheet of a code as it is typed off the paper, and the number of its area where that was typed too."""
    found = TYPED.fullmatch(re.sub(r"\s", "", typed).upper())
    if not found:
        return None, None
    sheet = PrintedSheet.objects.visible_to(person).filter(code=found[1]).first()
    return sheet, int(found[2]) if found[2] else None
