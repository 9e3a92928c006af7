"""How the cells of the matrix are written: a page holds more than a thousand, so what they share is written once."""

from __future__ import annotations

from functools import lru_cache

from django import template
from django.urls import reverse
from django.utils.html import escape, format_html
from django.utils.safestring import SafeString

from accounts.templatetags.house import TONES
from inspection.holdpoints.matrix import MatrixRow

register = template.Library()
NOBODY = "00000000-0000-0000-0000-000000000000"


@register.simple_tag
def matrix_cells(row: MatrixRow) -> SafeString:
    written = _written(tuple((cell.words, cell.mark, bool(cell.point), bool(cell.why)) for cell in row.cells))
    differing = [part for cell in row.cells for part in (cell.point, cell.why) if part]
    return format_html(written, *differing, "")


@lru_cache(maxsize=1024)
def _written(cells: tuple[tuple[str, str, bool, bool], ...]) -> str:
    """A row whose cells lie so, with a place for what differs: of each cell the id of its point and its reason."""
    address = escape(reverse("point", args=[NOBODY])).replace(NOBODY, "{}")
    written = []
    for words, mark, linked, explained in cells:
        said, tone = escape(words).replace("{", "{{").replace("}", "}}"), TONES.get(mark, "plain")
        why = '<span class="quiet small">{}</span>' if explained else ""
        if linked:
            written.append(f'<td class="cell"><a class="tone-{tone}" href="{address}">{said}</a>{why}</td>')
        else:
            written.append(f'<td class="cell quiet">{said}{why}</td>')
    return "".join(written)
