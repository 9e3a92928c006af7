"""An upload between its two steps: held for its sender, previewed as often as wanted, stored as it was shown.

It is read and judged when it comes; what that gave is held with it, and counts as long as nothing it rests on changes.
Nothing of it is a record until the sender says so; what is never confirmed vanishes by itself.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, fields
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from accounts import journal
from accounts.models import Person
from inspection.fieldwork.actions.thickness import refuse_faulty
from inspection.fieldwork.handing_on import Read, packed, unpacked
from inspection.fieldwork.judging import Judgement, judge
from inspection.fieldwork.models import KeptUpload, ThicknessRecord
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.fieldwork.reading_table import Table, read_table
from inspection.foundation.refusals import Fault, Refused
from inspection.instruments.models import Gauge
from inspection.projects.models import Coat, InspectionArea, Project
from inspection.projects.steps import coat_at, film_on

HELD_FOR = timedelta(hours=2)
# Of one person at a time; the oldest goes for the next.
MOST_HELD = 10


@dataclass(frozen=True, kw_only=True)
class HeldUpload:
    """All that was sent: the set-up of the measurement by id, and the file's bytes (or pasted rows, without a name)."""

    id: UUID
    project: UUID
    area: UUID
    coat: UUID
    gauge: UUID
    profile_way: str
    correction_nm: int
    first_reading_at: datetime | None
    last_reading_at: datetime | None
    note: str
    replaces: UUID | None
    replacement_reason: str
    content: bytes
    name: str
    # The surface profile record that the correction is taken from.
    profile_record: UUID | None = None
    read: Read | None = None

    @property
    def pasted(self) -> str | None:
        """The rows as they were typed; None when they came as a file."""
        return None if self.name else self.content.decode()

    @property
    def content_digest(self) -> str:
        return hashlib.sha256(self.content).hexdigest()

    @property
    def digest(self) -> str:
        return journal.digest_of({**self.set_up, "content": self.content_digest})

    @property
    def set_up(self) -> dict[str, Any]:
        """All of it but the content and what was read from that."""
        names = (field.name for field in fields(self))
        return {name: getattr(self, name) for name in names if name not in ("content", "read")}


@dataclass(frozen=True)
class Preview:
    """What would be stored. `faults` are of the upload as a whole; each row of the table carries its own."""

    table: Table
    times: tuple[datetime, datetime] | None
    faults: tuple[Fault, ...]
    judgement: Judgement | None

    @property
    def storable(self) -> bool:
        return self.judgement is not None


@dataclass(frozen=True)
class Upload:
    """A held upload with the rows it names, found again within the sender's sight."""

    held: HeldUpload
    project: Project
    area: InspectionArea
    coat: Coat
    gauge: Gauge
    replaces: ThicknessRecord | None
    profile_record: ProfileRecord | None = None

    @cached_property
    def table(self) -> Table:
        """As it was read when it came, or read now. Raises Refused for a file that is no table at all."""
        kept = self.held.read
        if kept and kept.zone == self.project.time_zone:
            return kept.table
        return read_table(self.held.content, zone=self.project.zone)

    @cached_property
    def preview(self) -> Preview:
        """What storing it would give, without storing anything. Raises Refused for a file that is no table at all."""
        table = self.table
        times, missing = self._times(table)
        whole = list(missing)
        try:
            refuse_faulty(
                gauge=self.gauge, profile_way=self.held.profile_way, correction_nm=self.held.correction_nm,
                unit=table.unit, readings=table.readings, times=times, note=self.held.note,
                reason=self.held.replacement_reason,
            )  # fmt: skip
            if times is not None and not table.faults:
                known = self.held.read.answer if self.held.read else None
                coat = film_on(self.area, coat_at(self.area, self.coat, times[0]))
                judgement = judge(coat, self.area, table.readings, self.held.correction_nm, known)
                return Preview(table, times, (), judgement)
        except Refused as refusal:
            # That there are no readings is no news where no row could be read.
            known_by = "readings" if table.faults else None
            whole += [fault for fault in refusal.faults if fault.row is None and fault.field != known_by]
            table = table.with_refusal(refusal)
        return Preview(table, times, tuple(whole), None)

    @property
    def read(self) -> Read:
        """To be held with it: the table and what the rule said."""
        judgement = self.preview.judgement
        return Read(self.project.time_zone, self.table, judgement.answer if judgement else None)

    def _times(self, table: Table) -> tuple[tuple[datetime, datetime] | None, list[Fault]]:
        """First and last reading: as given, else from the rows."""
        told = [reading.taken_at for reading in table.readings if reading.taken_at]
        first = self.held.first_reading_at or min(told, default=None)
        last = self.held.last_reading_at or max(told, default=None)
        if first and last:
            return (first, last), []
        if table.faults and "time" in table.columns:
            # The time that is wanted may stand in a row that could not be read.
            return None, []
        message = "Give the time, or a column time in the file."
        named = (("first_reading_at", first), ("last_reading_at", last))
        return None, [Fault(message, name) for name, at in named if at is None]


@transaction.atomic
def hold(by: Person, upload: HeldUpload, *, at: datetime | None = None) -> str:
    """Keep an upload for its sender until it is confirmed; gives the digest it is found by."""
    at = at or timezone.now()
    kept = {
        "content": upload.content, "what": journal.plain(upload.set_up), "kept_until": at + HELD_FOR,
        "read": packed(upload.read) if upload.read else None,
    }  # fmt: skip
    KeptUpload.objects.filter(kept_until__lt=at).delete()
    KeptUpload.objects.update_or_create(person=by, digest=upload.digest, defaults=kept)
    mine = KeptUpload.objects.filter(person=by).order_by("-kept_until", "-pk")
    KeptUpload.objects.filter(pk__in=list(mine.values_list("pk", flat=True)[MOST_HELD:])).delete()
    return upload.digest


def held(by: Person, digest: str, *, at: datetime | None = None) -> HeldUpload | None:
    row = KeptUpload.objects.filter(person=by, digest=digest, kept_until__gte=at or timezone.now()).first()
    if row is None or "area" not in row.what:
        # A logger's file is held beside it, and is looked at elsewhere.
        return None
    what: dict[str, Any] = dict(row.what)
    for name in ("id", "project", "area", "coat", "gauge", "replaces", "profile_record"):
        what[name] = UUID(what[name]) if what.get(name) else None
    for name in ("first_reading_at", "last_reading_at"):
        what[name] = datetime.fromisoformat(what[name]) if what[name] else None
    return HeldUpload(**what, content=bytes(row.content), read=unpacked(bytes(row.read)) if row.read else None)
