"""Which record stands now for each place and kind: kept after each record stored, and compared with all of them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple, cast
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import F, QuerySet, Window
from django.db.models.functions import RowNumber

from inspection.fieldwork.models import Latest, Record, RecordQuerySet


class Place(NamedTuple):
    """Where a record stands: an area, after a coat or before the first, and the kind of record."""

    area: UUID
    coat: UUID | None
    kind: str

    @classmethod
    def of(cls, record: Record) -> Place:
        return cls(record.area_id, record.coat_id, record.kind)

    @property
    def lookup(self) -> dict[str, Any]:
        after = {"coat__isnull": True} if self.coat is None else {"coat": self.coat}
        return {"area": self.area, "kind": self.kind, **after}


def keep_latest(record: Record) -> None:
    """Let what stands follow a record just stored; with a correction, also where the version it replaces stood.

    Each place is held until the transaction ends, always in one order; whoever stores there next sees this record.
    """
    places = {Place.of(record)} | ({Place.of(record.replaces)} if record.replaces else set())
    for place in sorted(places, key=str):
        _keep(place)


def _keep(place: Place) -> None:
    held = _held(place)
    if held is None:
        newest = _newest(place)
        if newest is None:
            return
        try:
            with transaction.atomic():
                Latest.objects.create(area_id=place.area, coat_id=place.coat, kind=place.kind, record_id=newest)
            return
        except IntegrityError:
            # Somebody else stored the first record of this place at the same moment; theirs is there now.
            held = _held(place)
            if held is None:
                raise
    # Asked while the place is held: what others stored meanwhile is seen now.
    newest = _newest(place)
    if newest is None:
        held.delete()
    elif newest != held.record_id:
        held.record_id = newest
        held.save(update_fields=["record"])


def _held(place: Place) -> Latest | None:
    return Latest.objects.select_for_update().filter(**place.lookup).first()


def _newest(place: Place) -> UUID | None:
    rows = _counting().filter(**place.lookup).newest_first()
    return cast("UUID | None", rows.values_list("pk", flat=True).first())


def _counting() -> RecordQuerySet:
    return Record.objects.current().that_count()


def differences() -> Iterator[tuple[Place, UUID | None, UUID | None]]:
    """Each place at which something else is kept than the records say, with what is kept and what they say."""
    rows = Latest.objects.values_list("area", "coat", "kind", "record")
    kept = {Place(area, coat, kind): record for area, coat, kind, record in rows}
    newest = _by_facts().values_list("area", "coat", "kind", "pk")
    said = {Place(area, coat, kind): record for area, coat, kind, record in newest}
    for place in sorted(kept.keys() | said.keys(), key=str):
        if kept.get(place) != said.get(place):
            yield place, kept.get(place), said.get(place)


def _by_facts() -> QuerySet[Any]:
    """The newest record of every place, from the records alone."""
    place = Window(
        RowNumber(), partition_by=[F("area"), F("coat"), F("kind")], order_by=[F("taken_at").desc(), F("id").desc()]
    )
    return cast("QuerySet[Any]", _counting().annotate(place=place).filter(place=1).order_by())


@transaction.atomic
def put_right() -> int:
    """Keep at each place what the records say; how many places were kept otherwise."""
    wrong = [place for place, _, _ in differences()]
    for place in wrong:
        Latest.objects.filter(**place.lookup).delete()
    for place in wrong:
        _keep(place)
    return len(wrong)
