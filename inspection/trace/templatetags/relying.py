"""Who relies on a thing, on the page that asks whether it is to be corrected."""

from __future__ import annotations

from typing import Any

from django import template

from accounts.models import Person
from inspection.fieldwork.models import Record
from inspection.trace.kinds import kind_named
from inspection.trace.queries import rests_on_it

register = template.Library()
# The area stands on every record of it, and says nothing of who relies on this one.
OF_ITS_PLACE = "area"


@register.inclusion_tag("trace/relying.html")
def relying_on(user: Person, record: Record) -> dict[str, Any]:
    """The newest of what rests on the record, as far as the person sees it: points, nonconformances, papers."""
    kind = kind_named(record.KIND)
    layers = rests_on_it(record, kind, user) if kind else []
    return {"layers": [layer for layer in layers if layer.kind.name != OF_ITS_PLACE]}
