"""The sight table: every address of the site. A new route needs a row here, or the suite fails and names it."""

from tests.sight.rows import Row
from tests.sight.table import accounts

ROWS: list[Row] = [
    *accounts.ROWS,
]
