"""How a cell of the matrix is written: short, for a page holds more than a thousand."""

from __future__ import annotations

from django import template
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from accounts.templatetags.house import TONES
from inspection.holdpoints.matrix import Cell

register = template.Library()
# The address of a point, all but its id: to reverse it a thousand times would take longer than the rest of the page.
NOBODY = "00000000-0000-0000-0000-000000000000"


@register.simple_tag
def matrix_cell(cell: Cell) -> SafeString:
    if cell.point is None:
        return format_html('<td class="cell quiet">{}</td>', cell.words)
    tone = TONES.get(cell.mark, "plain")
    before, after = _address()
    why = format_html('<span class="quiet small">{}</span>', cell.why) if cell.why else ""
    return format_html(
        '<td class="cell"><a class="tone-{}" href="{}{}{}">{}</a>{}</td>',
        tone,
        before,
        cell.point.pk,
        after,
        cell.words,
        why,
    )


def _address() -> tuple[str, str]:
    before, _, after = reverse("point", args=[NOBODY]).partition(NOBODY)
    return before, after
