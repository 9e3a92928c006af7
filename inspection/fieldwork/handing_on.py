"""What was read from a file and what its rule said, handed from the preview to the storing, so that each is done once.

It is kept on the site and never leaves it. It counts only for what it was made of: the same release, and for the
answer of a rule the very inputs that the rule would be given now.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

from inspection import foundation, standards
from inspection.fieldwork.judging import Answer, ReadingSent
from inspection.fieldwork.reading_table import Row, Table
from inspection.foundation.refusals import Fault
from inspection.foundation.units import Unit


@dataclass(frozen=True)
class Read:
    """A table as it was read by the clocks of a zone, and the answer of the rule, if its readings could be judged."""

    zone: str
    table: Table
    answer: Answer | None = None


@cache
def release() -> str:
    """The digest of the code that reads and judges: what another release kept is read and judged again."""
    places = (Path(str(foundation.__file__)).parent, Path(str(standards.__file__)).parent, Path(__file__).parent)
    sources = sorted(path for place in places for path in place.glob("*.py"))
    return hashlib.sha256(b"\0".join(path.read_bytes() for path in sources)).hexdigest()


def packed(read: Read) -> bytes:
    """As bytes that a later request unpacks. Cells may hold what no column of text or JSON takes."""
    table = read.table
    what = {
        "release": release(), "zone": read.zone, "columns": table.columns, "unit": table.unit,
        "media_type": table.media_type, "not_read": table.not_read, "notes": table.notes, "value": table.value_field,
        "rows": [
            (row.number, row.cells, [_plain(each) for each in row.readings], _faults(row.faults), row.area, row.around)
            for row in table.rows
        ],
        "answer": (read.answer.of, read.answer.result) if read.answer else None,
    }  # fmt: skip
    return zlib.compress(json.dumps(what, separators=(",", ":")).encode(), level=1)


def unpacked(kept: bytes) -> Read | None:
    """What was packed; None where another release did it."""
    what: dict[str, Any] = json.loads(zlib.decompress(kept))
    if what["release"] != release():
        return None
    rows = tuple(
        Row(
            number, tuple(cells), tuple(map(_reading, readings)), tuple(Fault(*fault) for fault in faults), area,
            tuple(tuple(each) if each else None for each in around),
        )
        for number, cells, readings, faults, area, around in what["rows"]
    )  # fmt: skip
    table = Table(
        tuple(what["columns"]), Unit(what["unit"]), rows, what["media_type"], tuple(what["not_read"]),
        tuple(what["notes"]), what["value"],
    )  # fmt: skip
    return Read(what["zone"], table, Answer(*what["answer"]) if what["answer"] else None)


def _plain(reading: ReadingSent) -> tuple[int, int, int, str | None, str]:
    spot, order, value_nm, at, void_reason = reading
    return spot, order, value_nm, at.isoformat() if at else None, void_reason


def _reading(plain: list[Any]) -> ReadingSent:
    spot, order, value_nm, at, void_reason = plain
    return ReadingSent(spot, order, value_nm, datetime.fromisoformat(at) if at else None, void_reason)


def _faults(faults: Iterable[Fault]) -> list[tuple[str, str, int | None]]:
    return [(fault.message, fault.field, fault.row) for fault in faults]
