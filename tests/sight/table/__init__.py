"""The sight table: every address of the site. A new route needs a row here, or the suite fails and names it."""

from tests.sight.rows import Row
from tests.sight.table import (
    accounts,
    calculators,
    diary,
    drawings,
    fieldapp,
    fieldwork,
    holdpoints,
    instruments,
    notices,
    paint,
    photos,
    plan,
    projects,
    reports,
    stations,
    trace,
    works,
)

ROWS: list[Row] = [
    *accounts.ROWS,
    *projects.ROWS,
    *works.ROWS,
    *paint.ROWS,
    *instruments.ROWS,
    *fieldwork.ROWS,
    *stations.ROWS,
    *calculators.ROWS,
    *holdpoints.ROWS,
    *plan.ROWS,
    *notices.ROWS,
    *photos.ROWS,
    *drawings.ROWS,
    *diary.ROWS,
    *fieldapp.ROWS,
    *trace.ROWS,
    *reports.ROWS,
]
