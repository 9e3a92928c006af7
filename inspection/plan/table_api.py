"""Lines of a plan as a table in the API: looked at, and put into a draft by the action of the page."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.shortcuts import get_object_or_404

from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Fault
from inspection.plan import line_table, lines, queries
from inspection.plan.models import PlanRevision
from inspection.projects.models import Project
from inspection.projects.table_api import TableFiles


class LineFiles(TableFiles):
    """Look at a table of lines, or put them into the draft: those not there are added, those there changed."""

    columns = line_table.READ_AS

    def place(self, by: Person, pk: UUID | None) -> PlanRevision:
        found: PlanRevision = get_object_or_404(queries.revisions_seen_by(by), pk=pk)
        require(by, Role.QUALITY_MANAGER, to="write a plan")
        return found

    def project_of(self, place: PlanRevision) -> Project | None:
        return place.plan.project

    def read(self, by: Person, place: PlanRevision, content: bytes, sent: dict[str, Any]) -> line_table.Table:
        return line_table.read(place, content)

    def doubts(self, by: Person, table: line_table.Table) -> list[Fault]:
        """None: what a row changes is changed in a draft, and shown."""
        return []

    def store(self, by: Person, place: PlanRevision, table: line_table.Table, sent: dict[str, Any]) -> Any:
        return lines.put_lines(by, revision=place, lines=table.sent())
