"""What pages of the rooms above say of paint of withdrawn batches under what they show."""

from __future__ import annotations

from typing import Any

from django import template

from accounts.models import Person
from inspection.works.lots.withdrawn_paint import PaintWithdrawn, under, withdrawn_paint_at
from inspection.works.models import PaintBatch

register = template.Library()


@register.inclusion_tag("works/withdrawn_paint.html")
def withdrawn_paint_under(person: Person, record: Any) -> dict[str, list[PaintWithdrawn]]:
    """Of what was found after a coat: the withdrawn paint in it and below, begun by then, as far as seen."""
    if record.coat is None or record.area_id is None:
        return {"paint": []}
    there = under(record.coat, withdrawn_paint_at([record.area_id]).get(record.area_id, ()))
    lying = [each for each in there if each.lot.begun_at <= record.taken_at]
    seen = set(PaintBatch.objects.visible_to(person).filter(pk__in=[each.batch.pk for each in lying])) if lying else ()
    return {"paint": [each for each in lying if each.batch in seen]}
