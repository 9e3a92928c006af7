"""Tables in the API, whatever they hold: looked at with how they are read, and stored as they were looked at.

A room says what its columns are, how its rows are read and by which action they are stored; the rest is the same for
all, and the same as on the pages.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, ClassVar
from uuid import UUID

from django.conf import settings
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation import asked_tables
from inspection.foundation.asked_tables import Columns
from inspection.foundation.cells import Sheet
from inspection.foundation.refusals import Asked, Fault, Refused
from inspection.foundation.shaping import Shape, told
from inspection.foundation.tables import Row, Table
from inspection.projects import area_table, breakdown, bulk, told_tables
from inspection.projects.models import Project
from inspection.projects.stored_tables import Sent
from inspection.projects.table_serializers import AreaFileSent, TableAnswer, TableFileSent

FIRST_LINES = 12
MOST_FAULTS = 100
OF_READINGS = ("unit", "per_spot")


@dataclass(frozen=True)
class HowTold:
    """How a file is read, and what must be told of it. `is_plain` where its heads say all of it."""

    sheet: Sheet
    shape: Shape
    asked: tuple[Fault, ...]
    told_before: bool = False
    is_plain: bool = False

    @property
    def first_lines(self) -> list[list[str]]:
        return [line for _, line in self.sheet.lines[:FIRST_LINES]]

    @property
    def sent_again(self) -> dict[str, Any]:
        """The shape as it may be sent: without the parts that only readings have."""
        return {name: value for name, value in self.shape.plain.items() if name not in OF_READINGS}

    @property
    def shown(self) -> dict[str, Any]:
        return {
            "shape": self.sent_again, "told_before": self.told_before, "asked": self.asked,
            "first_lines": self.first_lines,
        }  # fmt: skip


def how_told(by: Person, columns: Columns, content: bytes, sent: Mapping[str, Any] | None) -> HowTold:
    """As it was told now, as such a table was told before, or as its heads say. Raises Refused for what is no table."""
    if sent:
        shape = told(dict(sent), columns.meanings)
        sheets, _ = columns.sheets(content, shape.separator)
        if shape.sheet >= len(sheets):
            raise Refused(f"The file has {len(sheets)} sheet{'s' * (len(sheets) > 1)}.", field="sheet")
        found = asked_tables.completed(sheets[shape.sheet], shape, columns)
        return HowTold(sheets[shape.sheet], found.shape, found.asked)
    if (known := told_tables.offered(by, columns, content)) and known.shape.head:
        sheets, _ = columns.sheets(content, known.shape.separator)
        found = asked_tables.completed(sheets[known.shape.sheet], known.shape, columns)
        return HowTold(sheets[known.shape.sheet], found.shape, found.asked, told_before=True)
    sheets, _ = columns.sheets(content)
    found = asked_tables.proposed(sheets, columns)
    sheet = sheets[found.shape.sheet]
    if asked_tables.is_certain(content, columns):
        return HowTold(sheet, found.shape, (), is_plain=True)
    shape = replace(found.shape, skipped=asked_tables.likely_noise(sheet, found.shape, columns))
    doubt = Fault("It is not certain what the columns are, or which lines are rows; look at it, and say so.", "columns")
    return HowTold(sheet, shape, found.asked or (doubt,))


class TableFiles(GenericAPIView):
    """Look at a table, or store what it says: all of it or nothing."""

    serializer_class: Any = TableFileSent
    queryset = Project.objects.none()
    most_bytes = settings.DATA_UPLOAD_MAX_MEMORY_SIZE
    columns: ClassVar[Columns]

    def place(self, by: Person, pk: UUID | None) -> Any:
        """That to which the table belongs, within the person's sight and right."""
        raise NotImplementedError

    def project_of(self, place: Any) -> Project | None:
        return place if isinstance(place, Project) else None

    def read(self, by: Person, place: Any, content: bytes, sent: dict[str, Any]) -> Table:
        raise NotImplementedError

    def store(self, by: Person, place: Any, table: Any, sent: dict[str, Any]) -> Any:
        raise NotImplementedError

    def doubts(self, by: Person, table: Any) -> list[Fault]:
        """What is asked before it is stored: that which is doubtful about its rows."""
        return [Fault(told, "confirmed", row.number) for row in table.rows for told in _changes(row)]

    @extend_schema(responses={200: TableAnswer, 201: TableAnswer})
    def post(self, request: Request, pk: UUID | None = None) -> Response:
        """200 with `preview`, 201 when stored; 428 where it is doubtful or was stored before, until `confirmed`."""
        by = person_of(request)
        place = self.place(by, pk)
        asked = self.get_serializer(data=request.data)
        asked.is_valid(raise_exception=True)
        sent: dict[str, Any] = dict(asked.validated_data)
        content, looks = sent["bytes"], sent["preview"]
        how = how_told(by, self.columns, content, sent["shape"])
        if how.asked:
            if not looks:
                raise Refused(how.asked)
            return Response(TableAnswer({**NOTHING, **how.shown}).data)
        rows = content if how.is_plain else asked_tables.retold(how.sheet, how.shape, self.columns).encode()
        table: Any = self.read(by, place, rows, sent)
        came = Sent(by, self.columns, table, content, self.project_of(place))
        doubts = [] if table.faults else self.doubts(by, table)
        notes = [] if how.is_plain else asked_tables.told_of(how.sheet, how.shape, self.columns)
        told_of = {
            **NOTHING, **how.shown, "notes": [*notes, *table.told, *_told(table)], "rows": len(table.rows),
            "found": "" if table.faults else table.found, "faults": table.faults[:MOST_FAULTS], "doubts": doubts,
            "stored_before": came.before,
        }  # fmt: skip
        if looks:
            return Response(TableAnswer(told_of).data)
        if table.faults:
            raise Refused(table.faults[:MOST_FAULTS])
        if not sent["confirmed"] and (unsure := [*doubts, *(Fault(told, "confirmed") for told in came.before)]):
            raise Asked(unsure[:MOST_FAULTS])
        self._stored(by, place, table, came, sent)
        if sent["remember"] and sent["shape"]:
            told_tables.tell_table(by, columns=self.columns, sheet=how.sheet, shape=how.shape, remember=True)
        return Response(TableAnswer({**told_of, "stored": True}).data, status=201)

    def _stored(self, by: Person, place: Any, table: Any, came: Sent, sent: dict[str, Any]) -> None:
        try:
            came.stored(lambda: self.store(by, place, table, sent))
        except Refused as refusal:
            if any(fault.row for fault in refusal.faults):
                # The action counts what it was given; the sender counts lines.
                table.show_refusal(refusal)
                refusal.faults = tuple(table.faults[:MOST_FAULTS])
            raise


def _told(table: Table) -> list[str]:
    return [f"Row {row.number}, {told}" for row in table.rows for told in row.told][:MOST_FAULTS]


def _changes(row: Row) -> Iterable[str]:
    told: list[str] = getattr(row, "changes", [])
    return told


NOTHING: dict[str, Any] = {
    "stored": False, "notes": [], "rows": 0, "found": "", "faults": [], "doubts": [], "stored_before": [],
}  # fmt: skip


class AreaFiles(TableFiles):
    """Look at a table of inspection areas, or store what it says: areas not there are added, those there changed."""

    serializer_class = AreaFileSent
    columns = area_table.READ_AS

    def place(self, by: Person, pk: UUID | None) -> Project:
        found = get_object_or_404(Project.objects.visible_to(by), pk=pk)
        require(by, Role.QUALITY_MANAGER, to="add inspection areas")
        return found

    def read(self, by: Person, place: Project, content: bytes, sent: dict[str, Any]) -> area_table.Table:
        return area_table.read(place, content)

    def doubts(self, by: Person, table: area_table.Table) -> list[Fault]:
        touched = breakdown.touched_by_table(by, table.resized(), table.moved())
        return [*super().doubts(by, table), *(Fault(told, "confirmed") for told in touched)]

    def store(self, by: Person, place: Project, table: area_table.Table, sent: dict[str, Any]) -> bulk.Stored:
        return bulk.store_table(by, project=place, rows=table.wanted(), reason=sent["reason"])
