"""How much an evidence bundle would hold: counted before it is made, told beside the link to it, and bounded."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from typing import Any
from uuid import UUID

from django.db.models import Sum

from accounts.models import Person, StoredFile
from inspection.foundation.charts import many_of
from inspection.trace.bundle_photos import BYTES_A_PHOTO, photos_under
from inspection.trace.kinds import Kind, kind_named, narrowed
from inspection.trace.queries import ids_below
from inspection.trace.sight import project_of

MOST_THINGS = 2_000
# Five measurements of the largest size that can be recorded.
MOST_READINGS = 500_000
MOST_FILE_BYTES = 200_000_000
# Readings whose rows are in memory at once while a bundle is made.
A_BATCH = 20_000
# What things and readings weigh once packed, and how long they take; measured, and generous.
BYTES_A_THING, BYTES_A_READING = 4_000, 15
THINGS_A_SECOND, READINGS_A_SECOND, BYTES_A_SECOND = 150, 20_000, 20_000_000


@dataclass(frozen=True)
class Weight:
    """What would stand in the bundle of a thing: ids by kind, and how much they come to."""

    ids: dict[str, list[UUID]]
    readings: dict[UUID, int]
    file_bytes: int

    @property
    def things(self) -> int:
        return 1 + sum(map(len, self.ids.values()))

    @property
    def many_readings(self) -> int:
        return sum(self.readings.values())

    @property
    def size(self) -> int:
        """About how many bytes the ZIP will have."""
        return self.things * BYTES_A_THING + self.many_readings * BYTES_A_READING + self.file_bytes

    @property
    def seconds(self) -> int:
        """About how long it takes to make, at least one."""
        taken = self.things / THINGS_A_SECOND + self.many_readings / READINGS_A_SECOND
        return 1 + round(taken + self.file_bytes / BYTES_A_SECOND)

    @property
    def told(self) -> str:
        readings = f" with {many_of(self.many_readings, 'reading')}" if self.many_readings else ""
        return f"{many_of(self.things, 'thing')}{readings}"

    @property
    def too_much(self) -> str:
        """Why no bundle is made of it; empty where one is."""
        if self.things > MOST_THINGS:
            over = f"more than {MOST_THINGS} things stand under this one"
        elif self.many_readings > MOST_READINGS:
            over = f"{self.many_readings} readings stand under this one, more than the {MOST_READINGS} that it may hold"
        elif self.file_bytes > MOST_FILE_BYTES:
            over = f"the stored files under this one come to more than {MOST_FILE_BYTES // 1_000_000} MB"
        else:
            return ""
        return f"No evidence bundle: {over}. Take the bundles of what lies under it, one by one."

    def batches(self, ids: list[UUID]) -> Iterator[list[UUID]]:
        """The ids in runs of so few readings that a run fits into memory, however many one thing has."""
        run: list[UUID] = []
        held = 0
        for pk in ids:
            many = self.readings.get(pk, 0)
            if run and held + many > A_BATCH:
                yield run
                run, held = [], 0
            run.append(pk)
            held += many
        if run:
            yield run


def weighed(thing: Any, kind: Kind, person: Person) -> Weight:
    """What the bundle of the thing would hold, as far as the person may see it, in a number of queries that is fixed.

    Where it is more than MOST_THINGS, only so many are counted that this is known.
    """
    below = ids_below(thing, kind, person, most=MOST_THINGS)
    readings: dict[UUID, int] = {}
    files: set[str] = set()
    for name in {kind.name, *below}:
        found = kind_named(name)
        ids = [*below.get(name, ()), *([thing.pk] if name == kind.name else [])]
        if found is None or not ids:
            continue
        rows = narrowed(found.seen(person).order_by(), "pk", ids)
        if found.readings:
            readings |= dict(rows.values_list("pk", found.readings))
        if found.stored:
            files |= set(rows.exclude(**{found.stored: None}).values_list(found.stored, flat=True))
    size = StoredFile.objects.filter(pk__in=files).aggregate(size=Sum("size", default=0))["size"] if files else 0
    shown = photos_under(person, [thing.pk, *chain.from_iterable(below.values())], project_of(thing)).count()
    return Weight(below, readings, int(size) + shown * BYTES_A_PHOTO)
