"""The coats of many areas at once, from the steel up, in a number of reads that does not grow with the areas."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from uuid import UUID

from django.db.models import prefetch_related_objects

from inspection.projects.models import Coat, InspectionArea
from inspection.projects.steps import film_of, kept_on


def films_of(areas: Iterable[InspectionArea]) -> dict[UUID, list[Coat]]:
    """By area its steps, each coat with its data sheet; the areas know their systems."""
    by_system: dict[UUID, list[InspectionArea]] = defaultdict(list)
    for area in areas:
        by_system[area.system_id].append(area)
    coats: dict[UUID, list[Coat]] = defaultdict(list)
    for coat in Coat.objects.filter(system__in=by_system).select_related("system", "data_sheet"):
        coats[coat.system_id].append(coat)
    found: dict[UUID, list[Coat]] = {}
    for system, members in by_system.items():
        kept = kept_on([area.pk for area in members], members[0].system)
        found |= {area.pk: film_of(kept[area.pk], coats[system]) for area in members}
    every = {coat.pk: coat for film in found.values() for coat in film}
    prefetch_related_objects(list(every.values()), "data_sheet__rows")
    return {area: [every[coat.pk] for coat in film] for area, film in found.items()}
