"""What every template of the house may use: status marks, thicknesses in the project's unit, times in its zone."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from functools import lru_cache
from typing import Any

from django import template
from django.core.serializers.json import DjangoJSONEncoder
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from accounts.models import Role
from accounts.signals import ahead_of
from inspection.foundation.units import Unit as ThicknessUnit
from inspection.foundation.units import in_unit, with_unit

register = template.Library()

# A status is told by its word and its shape first, by colour last.
SHAPES = {
    "good": "M8 1a7 7 0 1 0 0 14A7 7 0 0 0 8 1Zm3.6 4.9-4.3 5.2-2.8-2.6 1-1.1 1.7 1.6 3.3-4z",
    "bad": "M5 1h6l4 4v6l-4 4H5l-4-4V5zm.9 3.8L4.8 5.9 6.9 8l-2.1 2.1 1."
    "1 1.1L8 9.1l2.1 2.1 1.1-1.1L9.1 8l2.1-2.1-1.1-1.1L8 6.9z",
    "doubt": "M8 1l7.5 14H.5zM7.2 6l.3 5h1l.3-5zm0 6v1.6h1.6V12z",
    "wait": "M8 1a7 7 0 1 0 0 14A7 7 0 0 0 8 1Zm0 1.8a5.2 5.2 0 1 1 0 10."
    "4A5.2 5.2 0 0 1 8 2.8ZM7.3 4.5v4l3 1.8.7-1.1-2.3-1.4V4.5z",
    "call": "M8 1a4.5 4.5 0 0 0-4.5 4.5V9L2 11.2V12h12v-.8L12.5 9V5.5A4.5 4.5 0 0 0 8 1ZM6.2 13a1.8 1.8 0 0 0 3.6 0z",
    "plain": "M3 6.8h10v2.4H3z",
}
TONES = {
    "pass": "good", "sound": "good", "released": "good", "closed": "good", "in_service": "good", "issued": "good",
    "done": "good", "valid": "good", "fail": "bad", "failed": "bad", "refused": "bad", "withdrawn": "bad",
    "expired": "bad", "in_question": "doubt", "incomplete": "doubt", "open": "doubt", "quarantined": "doubt",
    "passed_over": "doubt", "waived": "good", "attended": "good", "notified": "call",
    "expiring": "doubt", "provisional": "wait", "waiting": "wait", "queued": "wait", "running": "wait",
    "at_laboratory": "wait", "draft": "wait", "reviewed": "good", "commented": "call", "signed": "good",
}  # fmt: skip


@register.simple_tag
def status(state: str, words: str = "") -> SafeString:
    """A status mark: shape, words, tone. {% status record.verdict record.get_verdict_display %}"""
    return _status(TONES.get(str(state), "plain"), str(words) or str(state).replace("_", " ").capitalize())


@lru_cache(maxsize=1024)
def _status(tone: str, words: str) -> SafeString:
    return format_html(
        '<span class="status status-{}"><svg viewBox="0 0 16 16" aria-hidden="true" focusable="false">'
        '<path fill-rule="evenodd" d="{}"/></svg>{}</span>',
        tone,
        SHAPES[tone],
        words,
    )


@register.filter
def as_json(value: Any) -> str:
    """For a data attribute that a script reads; escaped like any other text."""
    return json.dumps(value, cls=DjangoJSONEncoder)


@register.filter
def thickness(nm: Any, unit: str = "um") -> str:
    """{{ record.mean_nm|thickness:project.unit }} gives 81.2 µm; a dash for nothing."""
    return with_unit(None if nm == "" else nm, unit)


@register.filter
def place(record: Any, kind: Any) -> str:
    """{{ record|place:kind }}: where a record of the kind was taken."""
    return str(kind.place(record))


@register.filter
def cells(record: Any, kind: Any) -> list[tuple[Any, str]]:
    """{% for column, cell in record|cells:kind %}: what a list tells of a record of the kind."""
    return [(column, column.cell(record)) for column in kind.columns]


@register.filter
def figure(nm: Any, unit: str = "um") -> str:
    """The thickness without its unit, for table columns whose head names it."""
    return "–" if nm is None or nm == "" else in_unit(nm, unit)


@register.filter
def unit_label(unit: str) -> str:
    return str(ThicknessUnit(unit).label)


@register.filter
def moment(at: datetime | None, project: Any = None) -> str:
    """{{ record.taken_at|moment:project }} in the project's own zone, as 2026-03-04 14:05."""
    if at is None:
        return "–"
    return timezone.localtime(at, project.zone if project else None).strftime("%Y-%m-%d %H:%M")


@register.filter
def clock(at: datetime | None, project: Any = None) -> str:
    """Only the time of day, in the project's own zone."""
    return "–" if at is None else timezone.localtime(at, project.zone if project else None).strftime("%H:%M")


@register.filter
def role_name(role: str) -> str:
    """The role as people call it: quality_manager gives Quality manager."""
    return str(Role(role).label)


@register.filter
def day(value: Any) -> str:
    return "–" if value is None else f"{value:%Y-%m-%d}"


@register.filter
def deed(verb: str) -> str:
    """A verb of the journal as words: hold_point.released gives Hold point released."""
    return verb.replace(".", " ").replace("_", " ").capitalize()


@register.filter
def value_of(mapping: Mapping[Any, Any], key: Any) -> Any:
    """The value under a key that is itself a variable; a dash where there is none."""
    return mapping.get(key, "–")


@register.filter
def named_at(whom: Any, at: datetime | None) -> str | None:
    """{{ row.raised_by|named_at:row.raised_at }}: the name borne then; None for nobody."""
    return None if whom is None else str(whom.name_at(at) if at else whom)


@register.inclusion_tag("accounts/ahead.html", takes_context=True)
def ahead(context: Any) -> dict[str, Any]:
    """The appointments of the next days, on whose landing page it stands: {% ahead %}."""
    return {"ahead": ahead_of(context["user"], timezone.now())}
