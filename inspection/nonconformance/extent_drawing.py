"""The search for the extent as a drawing: directions, spots, the next one, and the boundary once it is found."""

from __future__ import annotations

import math
from collections.abc import Callable

from reportlab.graphics.shapes import Circle, Drawing, Line, Polygon, Rect
from reportlab.lib.colors import white

from inspection.foundation.charts import HIGH, INK, LIMIT, LOW, NOMINAL, QUIET, RULE, Plot
from inspection.foundation.units import Unit, in_unit
from inspection.nonconformance.extent import NM, Found

LEAST_STEPS = 3
SPOT = 5
# The first ring is drawn somewhat further out, so that the figures of eight spots find room beside each other.
INMOST = 1.0
# Where the distances stand: between directions 3 and 4, where no spot is drawn.
BETWEEN = 3.5
# Right and left.
LEVEL = (3, 7)


def extent_drawing(number: int, unit: Unit, told: Found, *, size: float) -> Drawing:
    """A square of so many points. A disc is a spot that does not conform, a ring one that does."""
    title = f"NC-{number:03d}, extent outward from the nonconforming spot"
    means = f"Spot means in {unit.label}. Not to scale."
    summary = (
        f"Filled: does not conform. Ring: conforms. {means}" if size > 300 else f"Filled: does not conform. {means}"
    )
    plot = Plot(title if size > 400 else f"NC-{number:03d}, extent", summary, size, size, top=40)
    steps = max(LEAST_STEPS, *(len(arm.means) + 1 for arm in told.search.arms))
    middle, across = size / 2, (size - 40) / 2
    rise = across - 24

    def at(direction: float, step: float) -> tuple[float, float]:
        angle = math.radians(360 * (direction - 1) / told.search.directions)
        far = rise * (step + INMOST) / (steps + INMOST) if step else 0
        return middle + far * math.sin(angle), across + far * math.cos(angle)

    for step in range(1, steps + 1):
        ring = rise * (step + INMOST) / (steps + INMOST)
        plot.add(Circle(middle, across, ring, fillColor=None, strokeColor=RULE, strokeWidth=0.6))
        label = f"{step}" if told.by_units else f"{float(told.search.step_m * step):g} m"
        x, y = at(BETWEEN, step)
        plot.text(x, y - 2, label, size=6, colour=QUIET, anchor="middle")
    for direction in range(1, told.search.directions + 1):
        x, y = at(direction, steps)
        plot.add(Line(middle, across, x, y, strokeColor=RULE, strokeWidth=0.6))
        outside = at(direction, steps + 0.35)
        plot.text(outside[0], outside[1] - 3, str(direction), bold=True, anchor="middle")
    _boundary(plot, told, at)
    plot.add(Circle(middle, across, SPOT + 1, fillColor=LOW, strokeColor=INK, strokeWidth=1))
    for direction, arm in enumerate(told.search.arms, start=1):
        for step, (mean, fits) in enumerate(zip(arm.means, arm.conforming, strict=True), start=1):
            x, y = at(direction, step)
            plot.add(Circle(x, y, SPOT, fillColor=None if fits else LOW, strokeColor=NOMINAL if fits else LOW,
                            strokeWidth=1.6))  # fmt: skip
            _figure(plot, x, y, direction, step, in_unit(mean * NM, unit))
        if arm.ended:
            _end(plot, at, direction, len(arm.means) + 0.5)
    if told.outcome.next:
        x, y = at(told.outcome.next.direction, told.outcome.next.step)
        plot.add(Circle(x, y, SPOT + 2, fillColor=None, strokeColor=HIGH, strokeWidth=1.4, strokeDashArray=[2, 2]))
        plot.text(x + SPOT + 4, y + 4, "next", size=6.5, bold=True)
    return plot.drawing


def _figure(plot: Plot, x: float, y: float, direction: int, step: int, words: str) -> None:
    """Beside its spot; where spots lie side by side, above one and below the next, so that figures find room."""
    room, tall = 4.2 * len(words), 7
    left, low = x + SPOT + 2, y - 2
    if direction in LEVEL:
        left, low = x - room / 2, y + SPOT + 3 if step % 2 else y - SPOT - 8
    # The boundary and the rings pass behind it.
    plot.add(Rect(left, low - 1.5, room, tall, fillColor=white, fillOpacity=0.85, strokeColor=None))
    plot.text(left + room / 2, low, words, size=6.5, anchor="middle")


def _boundary(plot: Plot, told: Found, at: Callable[[float, float], tuple[float, float]]) -> None:
    """Within this line the film does not conform, at most; drawn once the search has ended."""
    if told.outcome.boundary:
        corners = [part for point in told.outcome.boundary for part in at(point.direction, point.step)]
        plot.add(Polygon(corners, fillColor=None, strokeColor=LIMIT, strokeWidth=1.4, strokeDashArray=[5, 3]))


def _end(plot: Plot, at: Callable[[float, float], tuple[float, float]], direction: int, step: float) -> None:
    """A bar across the direction: nothing to measure beyond."""
    (x, y), (inner_x, inner_y) = at(direction, step), at(direction, step - 0.2)
    along = math.hypot(x - inner_x, y - inner_y) or 1
    dx, dy = (y - inner_y) / along * 7, -(x - inner_x) / along * 7
    plot.add(Line(x - dx, y - dy, x + dx, y + dy, strokeColor=INK, strokeWidth=2))
