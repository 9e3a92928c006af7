"""Which record stands now for each place and kind: kept after each record stored, and compared with all of them."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Any, NamedTuple, cast
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import F, Q, QuerySet, Window
from django.db.models.functions import RowNumber

from inspection.fieldwork.models import ClimateRecord, Latest, Record, RecordQuerySet
from inspection.fieldwork.served import newest_read, read_for, served_areas, station_of
from inspection.projects.models import StationArea


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
    station = station_of(record)
    if station is None:
        return
    if record.replaces is None:
        _let_stand(record, station)
        return
    moments = (record.taken_at, record.replaces.taken_at)
    areas = {area for at in moments for area in served_areas(station, at).values_list("pk", flat=True)}
    keep_climate(areas)


def _let_stand(reading: Record, station: UUID) -> None:
    """Let a station's new reading stand for every area it serves where nothing newer does: a few statements for all."""
    served = served_areas(station, reading.taken_at).exclude(pk=reading.area_id)
    if reading.coat is not None:
        served = served.filter(system=reading.coat.system_id)
    areas = list(served.values_list("pk", flat=True))
    of_coat: dict[str, Any] = {"coat__isnull": True} if reading.coat_id is None else {"coat": reading.coat_id}
    rows = [Latest(area_id=area, coat_id=reading.coat_id, kind=reading.kind, record_id=reading.pk) for area in areas]
    Latest.objects.bulk_create(rows, ignore_conflicts=True)
    there = Latest.objects.filter(area__in=areas, kind=reading.kind, **of_coat)
    older = Q(record__taken_at__lt=reading.taken_at) | Q(record__taken_at=reading.taken_at, record__lt=reading.pk)
    held = list(there.select_for_update(of=("self",)).order_by("pk").values_list("pk", flat=True))
    # Asked while they are held: what others stored meanwhile is seen now.
    Latest.objects.filter(pk__in=list(Latest.objects.filter(older, pk__in=held).values_list("pk", flat=True))).update(
        record=reading.pk
    )


@transaction.atomic
def keep_climate(areas: Collection[UUID]) -> None:
    """Let the climate that stands at the areas follow the records, after a correction or another choice of areas."""
    of_areas = Latest.objects.filter(area__in=areas, kind=ClimateRecord.KIND)
    held = of_areas.select_for_update(of=("self",)).order_by("pk")
    kept = {Place(row.area_id, row.coat_id, row.kind): row for row in held}
    said = _newest_climate(areas, kept)
    Latest.objects.filter(pk__in=[row.pk for place, row in kept.items() if place not in said]).delete()
    moved = [row for place, row in kept.items() if place in said and row.record_id != said[place]]
    for row in moved:
        row.record_id = said[Place(row.area_id, row.coat_id, row.kind)]
    Latest.objects.bulk_update(moved, ["record"], batch_size=500)
    new = [Latest(area_id=p.area, coat_id=p.coat, kind=p.kind, record_id=pk) for p, pk in said.items() if p not in kept]
    Latest.objects.bulk_create(new)


def _newest_climate(areas: Collection[UUID], kept: Collection[Place]) -> dict[Place, UUID]:
    own = _by_facts(Q(area__in=areas, kind=ClimateRecord.KIND))
    newest = {Place(area, coat, kind): (at, pk) for area, coat, kind, at, pk in own}
    return _with_served(newest, read_for(areas), kept)


def _with_served(newest: dict[Place, Any], rows: QuerySet[Any], kept: Collection[Place]) -> dict[Place, UUID]:
    """What stands, where a reading of a station that served the place may be newer than what was taken there.

    An area given another system since has no such place any more; where one is kept from before, it is no fault.
    """
    for area, coat, at, record, has, of in newest_read(rows):
        place = Place(area, coat, ClimateRecord.KIND)
        if (place in kept or place in newest or coat is None or has == of) and (at, record) > newest.get(
            place, (at, UUID(int=0))
        ):
            newest[place] = (at, record)
    return {place: pk for place, (_, pk) in newest.items()}


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
    if place.kind == ClimateRecord.KIND:
        said = _newest_climate([place.area], [place])
        return said.get(place)
    rows = _counting().filter(**place.lookup).newest_first()
    return cast("UUID | None", rows.values_list("pk", flat=True).first())


def _counting() -> RecordQuerySet:
    return Record.objects.current().that_count()


def differences() -> Iterator[tuple[Place, UUID | None, UUID | None]]:
    """Each place at which something else is kept than the records say, with what is kept and what they say."""
    rows = Latest.objects.values_list("area", "coat", "kind", "record")
    kept = {Place(area, coat, kind): record for area, coat, kind, record in rows}
    newest = {Place(area, coat, kind): (at, record) for area, coat, kind, at, record in _by_facts(Q())}
    said = _with_served(newest, read_for(StationArea.objects.order_by().values("area")), kept)
    for place in sorted(kept.keys() | said.keys(), key=str):
        if kept.get(place) != said.get(place):
            yield place, kept.get(place), said.get(place)


def _by_facts(which: Q) -> QuerySet[Any]:
    """The newest record taken at every place, from the records alone: area, coat, kind, when and id."""
    place = Window(
        RowNumber(), partition_by=[F("area"), F("coat"), F("kind")], order_by=[F("taken_at").desc(), F("id").desc()]
    )
    newest = _counting().filter(which).annotate(place=place).filter(place=1).order_by()
    return cast("QuerySet[Any]", newest.values_list("area", "coat", "kind", "taken_at", "pk"))


@transaction.atomic
def put_right() -> int:
    """Keep at each place what the records say; how many places were kept otherwise."""
    wrong = [place for place, _, _ in differences()]
    for place in wrong:
        Latest.objects.filter(**place.lookup).delete()
    for place in wrong:
        _keep(place)
    return len(wrong)
