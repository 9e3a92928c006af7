"""How the cells of the matrix are written: a page holds more than a thousand, so what they share is written once."""

from __future__ import annotations

from functools import cache

from django import template
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from accounts.templatetags.house import TONES
from inspection.holdpoints.matrix import MatrixRow

register = template.Library()
NOBODY = "00000000-0000-0000-0000-000000000000"


@register.simple_tag
def matrix_cells(row: MatrixRow) -> SafeString:
    written, address = [], reverse("point", args=[NOBODY])
    for cell in row.cells:
        before, after = _around(cell.words, cell.mark, address if cell.point else "")
        why = format_html('<span class="quiet small">{}</span>', cell.why) if cell.why else ""
        written.append((before, cell.point or "", after, why))
    return format_html_join("", "{}{}{}{}</td>", written)


@cache
def _around(words: str, mark: str, address: str) -> tuple[SafeString, SafeString]:
    """What stands before and after the id of the cell's point."""
    if not address:
        return format_html('<td class="cell quiet">{}', words), format_html("{}", "")
    before, _, after = address.partition(NOBODY)
    link = format_html('<td class="cell"><a class="tone-{}" href="{}', TONES.get(mark, "plain"), before)
    return link, format_html('{}">{}</a>', after, words)
