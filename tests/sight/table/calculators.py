"""The calculators, which show nobody's records."""

from tests.sight.rows import EVERYBODY, Row

ROWS = [
    Row("calculators", allowed=EVERYBODY),
    Row("calculator", allowed=EVERYBODY, args=lambda place: {"name": "dew-point"}),
    Row("calculator", "POST", allowed=EVERYBODY, args=lambda place: {"name": "dew-point"}),
]
