"""Certificates as a table in the API: looked at, and recorded by the action of the page."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from accounts.models import Person, Role
from accounts.rights import require
from inspection.instruments import actions, certificate_table
from inspection.instruments.models import Certificate
from inspection.projects.table_api import TableFiles


class CertificateFiles(TableFiles):
    """Look at a table of certificates, a row for each thing that one names, or record them."""

    columns = certificate_table.READ_AS

    def place(self, by: Person, pk: UUID | None) -> None:
        require(by, Role.QUALITY_MANAGER, to="record certificates")

    def read(self, by: Person, place: None, content: bytes, sent: dict[str, Any]) -> certificate_table.Table:
        return certificate_table.read(by, content)

    def store(self, by: Person, place: None, table: certificate_table.Table, sent: dict[str, Any]) -> list[Certificate]:
        return actions.record_certificates(by, table.papers())
