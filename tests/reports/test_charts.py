"""Charts show every reading once, on the right side of each limit, and survive a strict content security policy."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from xml.etree import ElementTree as ET

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from reportlab.graphics.shapes import Circle, Drawing, Polygon, Rect, String

from inspection.foundation.charts import BAR, HIGH, LOW, as_svg, control_chart, histogram, nice_step

SVG = "{http://www.w3.org/2000/svg}"
LIMITS = {"minimum_nm": 60_000, "nominal_nm": 75_000, "maximum_nm": 120_000}
# The machine may be busy with other tests.
UNHURRIED = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
START = datetime(2026, 3, 1, tzinfo=UTC)


def words(drawing: Drawing) -> list[str]:
    return [shape.text for shape in drawing.contents if isinstance(shape, String)]


def bars(drawing: Drawing, colour: object) -> list[Rect]:
    return [shape for shape in drawing.contents if isinstance(shape, Rect) and shape.fillColor == colour]


def test_the_histogram_names_limits_and_sums_up_the_readings() -> None:
    drawing = histogram([70_000, 80_000, 90_500], unit="um", title="A1, Primer", **LIMITS)
    shown = words(drawing)
    assert "A1, Primer" in shown
    assert "3 readings, mean 80.2, lowest 70.0, highest 90.5 µm" in shown
    assert {"minimum 60.0", "nominal 75.0", "maximum 120.0"} <= set(shown)


def test_a_histogram_in_mil_converts_once() -> None:
    assert "1 reading, mean 3.00, lowest 3.00, highest 3.00 mil" in words(
        histogram([76_200], unit="mil", title="A1", **LIMITS)
    )


def test_readings_on_a_limit_conform() -> None:
    drawing = histogram([60_000, 120_000], unit="um", title="", **LIMITS)
    assert bars(drawing, LOW) == bars(drawing, HIGH) == []
    assert len(bars(drawing, BAR)) == 2


def test_readings_a_nanometre_outside_a_limit_do_not() -> None:
    drawing = histogram([59_999, 120_001], unit="um", title="", **LIMITS)
    assert (len(bars(drawing, LOW)), len(bars(drawing, HIGH)), bars(drawing, BAR)) == (1, 1, [])


@UNHURRIED
@given(st.lists(st.integers(-50_000, 3_000_000), max_size=60), st.booleans())
def test_a_histogram_of_anything_is_drawn_within_its_plate(values: list[int], narrow: bool) -> None:
    width, height = (162, 112) if narrow else (480, 220)
    drawing = histogram(values, unit="um", title="A1", width=width, height=height, **LIMITS)
    for shape in drawing.contents:
        left, low, right, high = shape.getBounds()
        assert (left > -1, low > -1, right < width + 30, high < height + 1) == (True,) * 4


@UNHURRIED
@given(st.floats(1e-6, 1e9), st.integers(1, 40))
def test_a_step_divides_the_span_into_no_more_than_asked(span: float, most: int) -> None:
    step = nice_step(span, most)
    assert span / step <= most * (1 + 1e-9)
    assert f"{step:.0e}"[0] in "125"


def test_points_outside_tolerance_or_control_limits_have_their_own_shape() -> None:
    points = [(START + timedelta(days=day), error) for day, error in enumerate((0.2, 2.5, -0.4, -1.6))]
    drawing = control_chart(points, unit="um", limits=(-1.5, 2.6), tolerance=2.0, title="G-01 at 125 µm")
    assert sum(isinstance(shape, Circle) for shape in drawing.contents) == 2
    assert sum(isinstance(shape, Polygon) for shape in drawing.contents) == 2
    assert {"tolerance +2", "tolerance −2", "control limit −1.5", "control limit 2.6"} <= set(words(drawing))


def test_empty_charts_say_so() -> None:
    assert "No readings" in words(histogram([], unit="um", title="A1", **LIMITS))
    assert "No checks yet" in words(control_chart([], unit="um", limits=None, tolerance=None, title="G-01"))


def test_svg_carries_nothing_that_a_strict_policy_drops_and_no_ids() -> None:
    root = ET.fromstring(as_svg(histogram([70_000, 130_000], unit="um", title="A & B <1>", **LIMITS)))
    for element in root.iter():
        assert element.tag in {f"{SVG}{name}" for name in ("svg", "g", "rect", "line", "text", "polygon", "polyline")}
        assert not {"style", "id", "class", "href"} & set(element.attrib)
    assert "A & B <1>" in [element.text for element in root.iter(f"{SVG}text")]


def test_svg_stands_on_a_white_plate_so_that_dark_pages_can_show_it() -> None:
    root = ET.fromstring(as_svg(histogram([70_000], unit="um", title="A1", **LIMITS)))
    assert root[0].attrib == {"width": "100%", "height": "100%", "fill": "#ffffff"}
