"""An upload between its two steps: held for its sender, previewed as often as wanted, stored as it was shown.

It is read and judged when it comes; what that gave is held with it, and counts as long as nothing it rests on changes.
Nothing of it is a record until the sender says so; what is never confirmed vanishes by itself.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, fields, replace
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
from inspection.fieldwork.judging import Judgement, ReadingSent, judge
from inspection.fieldwork.models import KeptUpload, ThicknessRecord
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.fieldwork.reading_shape import MEANINGS
from inspection.fieldwork.reading_table import Table, read_table
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.shaping import told
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
    # How the file is read, where that was told; None where its head says it.
    shape: dict[str, Any] | None = None
    # Where its rows name several areas: by the name in the file, the area's id (empty for one that is not there), and
    # the id of its record to be.
    parts: dict[str, list[str]] = field(default_factory=dict)
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
        names = (each.name for each in fields(self))
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

    # Of a file of several areas, the name in it of the one that is looked at.
    part: str = ""

    @cached_property
    def whole(self) -> Table:
        """As it was read when it came, or read now. Raises Refused for a file that is no table at all."""
        kept = self.held.read
        if kept and kept.zone == self.project.time_zone:
            return kept.table
        first = self.held.first_reading_at
        shape = told(self.held.shape, MEANINGS) if self.held.shape is not None else None
        day = first.astimezone(self.project.zone).date() if first else None
        return read_table(self.held.content, zone=self.project.zone, shape=shape, day=day)

    @property
    def table(self) -> Table:
        """The rows that are looked at: of a file of several areas, those of one."""
        return self.whole.of_area(self.part) if self.part else self.whole

    @property
    def id(self) -> UUID:
        """Of the record to be."""
        return UUID(self.held.parts[self.part][1]) if self.part else self.held.id

    @cached_property
    def parts(self) -> dict[str, list[str]]:
        """Of a file of several areas: by the name in it, the id of the area, or nothing, and one for its record."""
        if len(self.whole.areas) < 2:
            return {}
        known: dict[str, InspectionArea] = {}
        for area in InspectionArea.objects.filter(structure__project=self.project).select_related("structure"):
            for name in {area.code.casefold(), area.label.casefold()}:
                # A code that two structures share means that of the structure which was chosen.
                if name not in known or area.structure_id == self.area.structure_id:
                    known[name] = area
        found = {name: known.get(name.casefold()) for name in self.whole.areas}
        return {name: [str(area.pk) if area else "", str(new_id())] for name, area in found.items()}

    def to_hold(self) -> HeldUpload:
        """It with what was read from it. Raises Refused for a file that is no table, Unsure for what must be told."""
        parts = self.parts
        if parts:
            # Each is judged when it is looked at.
            return replace(self.held, parts=parts, read=Read(self.project.time_zone, self.whole))
        return replace(self.held, read=self.read)

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
                judgement = self._judged(table, times[0])
                if not table.too_fine or self._same_rounded(table, times[0], judgement):
                    return Preview(table, times, (), judgement)
                return Preview(table.refused_as_too_fine(), times, (), None)
        except Refused as refusal:
            # That there are no readings is no news where no row could be read.
            known_by = "readings" if table.faults else None
            whole += [fault for fault in refusal.faults if fault.row is None and fault.field != known_by]
            table = table.with_refusal(refusal)
        return Preview(table, times, tuple(whole), None)

    def _judged(self, table: Table, at: datetime, readings: list[ReadingSent] | None = None) -> Judgement:
        known = self.held.read.answer if self.held.read and not self.part else None
        coat = film_on(self.area, coat_at(self.area, self.coat, at))
        return judge(coat, self.area, readings or table.readings, self.held.correction_nm, known)

    def _same_rounded(self, table: Table, at: datetime, judgement: Judgement) -> bool:
        """Whether no check turns on how readings finer than a nanometre are rounded: all taken down, or all up."""
        both = [self._judged(table, at, table.rounded(way)) for way in (0, 1)]
        return all(_passed(each) == _passed(judgement) for each in both)

    @property
    def read(self) -> Read:
        """To be held with it: the table and what the rule said."""
        judgement = self.preview.judgement
        return Read(self.project.time_zone, self.table, judgement.answer if judgement else None)

    def _times(self, table: Table) -> tuple[tuple[datetime, datetime] | None, list[Fault]]:
        """First and last reading: as given, else from the rows."""
        known = [reading.taken_at for reading in table.readings if reading.taken_at]
        first = self.held.first_reading_at or min(known, default=None)
        last = self.held.last_reading_at or max(known, default=None)
        if first and last:
            return (first, last), []
        if table.faults and "time" in table.columns:
            # The time that is wanted may stand in a row that could not be read.
            return None, []
        message = "Give the time, or a column time in the file."
        named = (("first_reading_at", first), ("last_reading_at", last))
        return None, [Fault(message, name) for name, at in named if at is None]


def _passed(judgement: Judgement) -> tuple[Any, ...]:
    return judgement.verdict, *(check.get("passed") for check in judgement.result.get("checks", ()))


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
