"""Whether the same table was stored before: told when it is looked at and when it is stored, whatever it holds.

A file is known by its bytes, and what it says by its rows, however they are written; pasted rows have no file. The
digest of a file goes with the form, signed, from its first look to its storing, and counts while its rows stay so.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any, TypeVar

from django.core import signing
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from accounts import journal
from accounts.models import Person
from inspection.foundation.asked_tables import Columns
from inspection.foundation.tables import Table
from inspection.projects.models import Project, StoredTable

CAME, SALT = "came", "table"
MOST_TOLD = 3
Done = TypeVar("Done")


def signed(content: bytes, rows: str = "") -> str:
    """What goes with the form of a file: its digest, and that of the rows read from it where they are known."""
    return _signed(hashlib.sha256(content).hexdigest(), rows)


def _signed(file: str, rows: str) -> str:
    return signing.dumps([file, rows], salt=SALT)


@dataclass(frozen=True)
class Sent:
    """A table as it came. `came` is what `signed` gave of its file, or its bytes; None for pasted rows."""

    by: Person
    columns: Columns
    table: Table
    came: str | bytes | None
    project: Project | None = None

    @cached_property
    def file_digest(self) -> str:
        """Of the file, while the rows are as they were read from it; empty else."""
        if isinstance(self.came, bytes):
            return hashlib.sha256(self.came).hexdigest()
        try:
            file, rows = signing.loads(self.came or "", salt=SALT)
        except signing.BadSignature:
            return ""
        return file if rows in ("", self.table.digest) else ""

    @cached_property
    def before(self) -> list[str]:
        """When the same file, or the same rows, were stored before by somebody of the sender's organisation."""
        mine = StoredTable.objects.filter(
            organisation=self.by.organisation_id, project=self.project, table=self.columns.name
        ).select_related("stored_by")
        same = Q(rows_digest=self.table.digest)
        if self.file_digest:
            same |= Q(file_digest=self.file_digest)
        zone = self.project.zone if self.project else None
        told = []
        for row in mine.filter(same).order_by("-stored_at", "-pk")[:MOST_TOLD]:
            what = "file" if self.file_digest and row.file_digest == self.file_digest else "rows"
            was = "was" if what == "file" else "were"
            told.append(
                f"The same {what} {was} stored before, on {timezone.localtime(row.stored_at, zone):%Y-%m-%d %H:%M} "
                f"by {row.stored_by.name}."
            )
        return told

    @property
    def shown(self) -> dict[str, Any]:
        """For the page: what was stored before, and what goes with its form."""
        return {"before": self.before, CAME: _signed(self.file_digest, self.table.digest) if self.file_digest else ""}

    @transaction.atomic
    def stored(self, act: Callable[[], Done], *, at: datetime | None = None) -> Done:
        """Store what the table says by the action of its room, and keep that it was stored."""
        _ = self.before
        done = act()
        row = StoredTable.objects.create(
            organisation_id=self.by.organisation_id, project=self.project, table=self.columns.name,
            file_digest=self.file_digest, rows_digest=self.table.digest, rows=len(self.table.rows), stored_by=self.by,
            stored_at=at or timezone.now(),
        )  # fmt: skip
        journal.record(
            "table.stored", row, by=self.by, project_id=self.project.pk if self.project else None,
            after={"table": row.table, "file": row.file_digest, "rows": row.rows, "rows_digest": row.rows_digest},
            at=at,
        )  # fmt: skip
        return done
