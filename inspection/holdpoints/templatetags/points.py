"""How rows of the matrix and of the board are written: a page holds so many that what they share is written once."""

from __future__ import annotations

from functools import cache, lru_cache

from django import template
from django.forms import Form
from django.urls import reverse
from django.utils.html import escape, format_html, format_html_join
from django.utils.safestring import SafeString

from accounts.templatetags.house import TONES, moment, status, thickness
from inspection.holdpoints.board_rows import BoardRow
from inspection.holdpoints.chain.links import MARKS as CHAIN_MARKS
from inspection.holdpoints.chain.links import State
from inspection.holdpoints.ground import MARKS
from inspection.holdpoints.matrix import CHAIN, MatrixRow
from inspection.holdpoints.models import HoldPoint

register = template.Library()
# By their names: asked of each row, `get_kind_display` looks all of them through.
KINDS: dict[str, str] = {kind.value: str(kind.label) for kind in HoldPoint.Kind}
NOBODY = "00000000-0000-0000-0000-000000000000"
MEASURED = (
    '<td data-label="Thickness">{}</td><td data-label="Mean" class="num">{}</td><td data-label="Standing">{}</td>'
)
NOT_MEASURED = format_html(MEASURED, format_html('<span class="quiet">{}</span>', "Not measured"), "–", "–")
# Of the bare steel, or of what is seen alone.
NOT_ASKED = format_html(MEASURED, format_html('<span class="quiet">{}</span>', "None asked for"), "–", "–")
UNDECIDED = format_html('<td data-label="Last decision"><span class="quiet">{}</span></td>', "None yet")


@register.simple_tag
def matrix_row(row: MatrixRow) -> SafeString:
    """The area's code, where it lies, and its cells."""
    area, section = row.area, row.area.section
    written = _written(tuple((cell.words, cell.mark, cell.point is not None, cell.why != "") for cell in row.cells))
    # An id holds nothing to escape; the reasons people gave do.
    cells = written.format(*(cell.point for cell in row.cells if cell.point))
    lies_in = format_html(' <span class="quiet small">{}</span>', section.path) if section else ""
    return format_html(
        '<th scope="row"><a href="{}">{}</a>{}</th>' + cells, _address("area").replace(NOBODY, str(area.pk)),
        area.code, lies_in, *(cell.why for cell in row.cells if cell.why),
    )  # fmt: skip


@lru_cache(maxsize=1024)
def _written(cells: tuple[tuple[str, str, bool, bool], ...]) -> str:
    """A row whose cells lie so, to be formatted twice: with the ids of its points, then with their reasons."""
    address = escape(_address("point")).replace(NOBODY, "{}")
    written = []
    for words, mark, linked, explained in cells:
        said, tone = escape(words).replace("{", "{{{{").replace("}", "}}}}"), TONES.get(mark, "plain")
        why = '<span class="quiet small">{{}}</span>' if explained else ""
        if linked:
            written.append(f'<td class="cell"><a class="tone-{tone}" href="{address}">{said}</a>{why}</td>')
        else:
            written.append(f'<td class="cell quiet">{said}{why}</td>')
    return "".join(written)


@register.simple_tag
def board_point(row: BoardRow) -> SafeString:
    """The cells of the board that everybody sees: the point, where it is, how it lies."""
    point = row.point
    return format_html(
        '<th scope="row"><a href="{}">{}</a> <span class="quiet small">{}, {}</span></th>'
        '<td data-label="Area">{} <span class="quiet small">{}</span></td><td data-label="State">{}</td>',
        _address("point").replace(NOBODY, str(point.pk)), point.title, KINDS[point.kind], point.step, point.area,
        point.project.code, lies(point),
    )  # fmt: skip


@register.simple_tag
def lies(point: HoldPoint) -> SafeString:
    """Where the point lies, in the words and marks of the board."""
    return _lies(point.lies, point.passed_over_at is not None, point.chain_broken)


@cache
def _lies(place: int, passed_over: bool, broken: bool) -> SafeString:
    """With a second mark where work went on over it and it does not lie there anyhow, and where its chain broke."""
    lies = HoldPoint.Lies(place)
    also = status("passed_over", "Passed over") if passed_over and lies != HoldPoint.Lies.PASSED_OVER else ""
    chain = status(CHAIN_MARKS[State.NOT_MET], CHAIN.capitalize()) if broken and lies == HoldPoint.Lies.DOUBT else ""
    return format_html_join(
        " ", "{}", ((mark,) for mark in (status(MARKS[lies], str(lies.label)), also, chain) if mark)
    )


@register.simple_tag
def ticked(form: Form, *sent: object) -> str:
    """Of a form that was sent and refused: that a point was chosen, with the evidence that is shown now."""
    return " checked" if form.is_bound and " ".join(map(str, sent)) in (form["points"].value() or ()) else ""


@register.simple_tag
def board_ground(row: BoardRow) -> SafeString:
    """The cells of the board about what a point stands on, and what was last decided."""
    return format_html("{}{}", _measured(row), _decided(row))


def _measured(row: BoardRow) -> SafeString:
    record = row.record
    if record is None:
        return NOT_MEASURED if row.point.measured else NOT_ASKED
    standing = getattr(record, "standing", None)
    return format_html(
        MEASURED, status(record.verdict, record.get_verdict_display()),
        thickness(record.mean_nm, row.point.project.unit),
        status(standing.state, standing.get_state_display()) if standing else "–",
    )  # fmt: skip


def _decided(row: BoardRow) -> SafeString:
    decision = row.decision
    if decision is None:
        return UNDECIDED
    return format_html(
        '<td data-label="Last decision">{} {} <span class="quiet small">{}</span></td>',
        decision.get_outcome_display(), moment(decision.at, row.point.project), decision.signed_as,
    )  # fmt: skip


@lru_cache(maxsize=2)
def _address(name: str) -> str:
    """That of a point or an area, with nobody's id in the place of its own."""
    return reverse(name, args=[NOBODY])
