"""A delivery as a table in the API: looked at, and entered by the action of the page."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.shortcuts import get_object_or_404
from rest_framework import serializers

from accounts.models import Person
from accounts.rights import require
from inspection.projects.breakdown_api import named
from inspection.projects.models import Party, Project
from inspection.projects.table_api import TableFiles
from inspection.projects.table_serializers import TableFileSent
from inspection.works.entering import WORKERS, party_for
from inspection.works.models import PaintBatch
from inspection.works.paint import batch_table, batches


class BatchFileSent(TableFileSent):
    party = serializers.UUIDField(
        required=False, allow_null=True, default=None, help_text="Whose paint it is; left out, the first you enter for"
    )


class BatchFiles(TableFiles):
    """Look at a delivery as a table, or enter the batches of it that are new."""

    serializer_class = BatchFileSent
    columns = batch_table.READ_AS

    def place(self, by: Person, pk: UUID | None) -> Project:
        found = get_object_or_404(Project.objects.visible_to(by), pk=pk)
        require(by, *WORKERS, to="enter batches of paint")
        return found

    def read(self, by: Person, place: Project, content: bytes, sent: dict[str, Any]) -> batch_table.Table:
        return batch_table.read(by, place, self._party(by, place, sent), content)

    def store(self, by: Person, place: Project, table: batch_table.Table, sent: dict[str, Any]) -> list[PaintBatch]:
        rows = [row.values for row in table.new()]
        return batches.receive_delivery(by, project=place, party=self._party(by, place, sent), rows=rows)

    @staticmethod
    def _party(by: Person, place: Project, sent: dict[str, Any]) -> Party:
        return party_for(by, place, named(Party.objects.visible_to(by).filter(project=place), sent["party"], "party"))
