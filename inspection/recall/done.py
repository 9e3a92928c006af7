"""How a recall that was done is shown, from what its row keeps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from uuid import UUID

from accounts.models import Person
from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.models import ThicknessRecord
from inspection.nonconformance.models import Nonconformance
from inspection.recall.foreseen import CORRECTED, REINSTATED, RELIED_ON
from inspection.recall.models import Recall
from inspection.standing.models import Standing
from inspection.trace.kinds import kind_named, narrowed
from inspection.trace.queries import SHOWN, Layer, node_of, versions


def layer_of(name: str, ids: Sequence[UUID], person: Person) -> Layer | None:
    """The newest few of the things and how many they are; None for none."""
    kind = kind_named(name)
    if kind is None or not ids:
        return None
    rows = narrowed(kind.seen(person), "pk", ids).order_by(kind.newest, "-pk")
    total = rows.count()
    return Layer(kind, tuple(node_of(kind, row) for row in rows[:SHOWN]), total) if total else None


@dataclass(frozen=True)
class Turned:
    record: ThicknessRecord
    was: str
    would_be: str


@dataclass(frozen=True)
class Done:
    """A recall that was done, read back from its row."""

    recall: Recall
    person: Person

    @property
    def words(self) -> str:
        return {CORRECTED: "Corrected", REINSTATED: "Reinstated"}.get(self.recall.touched["way"], "Withdrawn")

    def _ids(self, name: str) -> list[UUID]:
        return [UUID(pk) for pk in self.recall.touched.get(name, ())]

    @cached_property
    def layers(self) -> list[Layer]:
        names = (
            ("verifications", "verification"), ("mixes", "mix"), ("lots", "lot"), ("later", "lot"), ("areas", "area"),
            *(("records", kind) for kind in (BY_NAME if self.recall.batch_id else RELIED_ON)), ("points", "holdpoint"),
            ("reports", "report"),
        )  # fmt: skip
        found = (layer_of(kind, self._ids(name), self.person) for name, kind in names)
        return [layer for layer in found if layer]

    @cached_property
    def turned(self) -> list[Turned]:
        kept = self.recall.touched.get("flips", {})
        if not kept:
            return []
        rows = ThicknessRecord.objects.filter(pk__in=self._ids("flips")[:SHOWN]).select_related(
            "project", "area", "coat"
        )
        label = dict(ThicknessRecord.Verdict.choices)
        return [Turned(row, *(label[verdict] for verdict in kept[str(row.pk)])) for row in rows]

    @cached_property
    def nonconformances(self) -> list[Nonconformance]:
        return self._rows(self._ids("nonconformances"))

    @cached_property
    def closed(self) -> list[Nonconformance]:
        return self._rows(self._ids("closed"))

    @cached_property
    def still_open(self) -> list[Nonconformance]:
        """Of a recall taken back, or values corrected again: what earlier recalls raised and nobody has closed."""
        if self.recall.touched["way"] not in (REINSTATED, CORRECTED):
            return []
        every = Recall.objects.filter(batch=self.recall.batch_id, at__lte=self.recall.at)
        if self.recall.certificate_id:
            every = every.filter(certificate__in=versions([self.recall.certificate_id]))
        kept = every.exclude(pk=self.recall.pk)
        raised = [UUID(pk) for ids in kept.values_list("touched__nonconformances", flat=True) for pk in ids or ()]
        return [row for row in self._rows(raised) if row.state == Nonconformance.State.OPEN]

    def _rows(self, ids: Sequence[UUID]) -> list[Nonconformance]:
        rows = Nonconformance.objects.filter(pk__in=ids).select_related("project")
        return list(rows.order_by("project__code", "number"))

    @cached_property
    def people(self) -> list[Person]:
        return list(Person.objects.filter(pk__in=self._ids("people")).select_related("organisation"))

    @cached_property
    def by_change(self) -> list[tuple[str, str, int]]:
        """How many records went from which standing to which."""
        label = dict(Standing.State.choices)
        counted: dict[tuple[str, str], int] = {}
        if self.recall.batch_id:
            # The readings stand as they did.
            return []
        for before, after in self.recall.touched["records"].values():
            key = (label[before], label[after])
            counted[key] = counted.get(key, 0) + 1
        return [(before, after, many) for (before, after), many in sorted(counted.items())]
