"""The coats of many areas at once, from the steel up, in a number of reads that does not grow with the areas."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from uuid import UUID

from django.db.models import F, prefetch_related_objects

from inspection.projects.models import Coat, InspectionArea, KeptCoat
from inspection.projects.steps import film_of


def films_of(areas: Iterable[InspectionArea]) -> dict[UUID, list[Coat]]:
    """By area its steps, each coat with its data sheet; the areas know their systems."""
    by_system: dict[UUID, list[InspectionArea]] = defaultdict(list)
    for area in areas:
        by_system[area.system_id].append(area)
    coats: dict[UUID, list[Coat]] = defaultdict(list)
    for coat in Coat.objects.filter(system__in=by_system).select_related("system", "data_sheet"):
        coats[coat.system_id].append(coat)
    kept: dict[UUID, list[KeptCoat]] = defaultdict(list)
    ids = [area.pk for members in by_system.values() for area in members]
    rows = KeptCoat.objects.filter(area__among=ids, system=F("area__system")).select_related("coat__system")
    for row in rows.order_by("area", "number"):
        kept[row.area_id].append(row)
    found = {
        area.pk: film_of(kept[area.pk], coats[system]) for system, members in by_system.items() for area in members
    }
    every = {coat.pk: coat for film in found.values() for coat in film}
    prefetch_related_objects(list(every.values()), "data_sheet__rows")
    return {area: [every[coat.pk] for coat in film] for area, film in found.items()}
