"""All readings of a record or a project as CSV, streamed: memory does not grow with them, and an end mark closes it."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Iterator, Sequence
from typing import Any

from django.db.models import QuerySet

from inspection.fieldwork.models import Reading
from inspection.foundation.cells import shielded
from inspection.foundation.units import Unit, in_unit
from inspection.projects.models import Project

# Rows fetched from the database, and written, at a time.
A_PART = 2_000
END = "end of file"
COLUMNS = (
    "record", "structure", "area", "coat", "gauge", "verdict", "spot", "reading", "thickness", "subtracted", "time",
    "void_reason",
)  # fmt: skip


def readings_as_csv(readings: QuerySet[Reading], project: Project) -> Iterator[bytes]:
    """The rows of the readings under their head, as the gauges showed them, in the project's unit and time.

    The last line is `end of file`, the number of readings, and the SHA-256 of all bytes before that line. Without it
    the file was cut off: once the first part is sent, no status can tell that the rest failed.
    """
    unit, zone = Unit(project.unit), project.zone
    head = [f"{name}_{unit}" if name in ("thickness", "subtracted") else name for name in COLUMNS]
    digest, count = hashlib.sha256(), 0
    rows: list[Sequence[Any]] = [head]
    found = readings.values_list(
        "record", "record__area__structure__name", "record__area__code", "record__coat__name",
        "record__gauge__identity", "record__verdict", "spot", "order", "value_nm", "record__correction_nm",
        "taken_at", "void_reason",
    )  # fmt: skip
    for record, *names, spot, order, nm, less_nm, at, why in found.iterator(chunk_size=A_PART):
        values = [in_unit(nm, unit, 3), in_unit(less_nm, unit, 3)]
        time = at.astimezone(zone).isoformat(" ") if at else ""
        rows.append([record, *map(shielded, names), spot, order, *values, time, shielded(why)])
        count += 1
        if len(rows) >= A_PART:
            yield _part(rows, digest)
            rows = []
    yield _part(rows, digest)
    yield _written([[END, count, digest.hexdigest()]])


def _part(rows: Sequence[Sequence[Any]], digest: Any) -> bytes:
    part = _written(rows)
    digest.update(part)
    return part


def _written(rows: Sequence[Sequence[Any]]) -> bytes:
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerows(rows)
    return out.getvalue().encode()
