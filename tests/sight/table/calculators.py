"""The calculators, which show nobody's records."""

from tests.sight.rows import Row

ROWS = [
    Row("calculators"),
    Row("calculator", args=lambda place: {"name": "dew-point"}),
    Row("calculator", "POST", args=lambda place: {"name": "dew-point"}),
]
