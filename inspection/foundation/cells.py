"""The bytes of a text or a workbook as lines of text cells, whatever program wrote it; what it is not is told.

Every table that comes in is read here, within limits of time, memory and size. What is more than a little text is read
by a process of its own (`unpacking.py`): a file made to unpack to gigabytes ends that process and nothing else.
"""

from __future__ import annotations

import hashlib
import json
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

from django.conf import settings

from inspection.foundation import unpacking
from inspection.foundation.refusals import Refused
from inspection.foundation.unpacking import Limits, Unreadable

# A spreadsheet takes a cell that begins so for a formula and runs it (OWASP, CSV injection).
FORMULA = ("=", "+", "-", "@", "\t", "\r")
NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?")
MOST_COLUMNS = 100
MOST_CELLS = 500_000
MOST_UNPACKED = 100 * 1024 * 1024
# Text does not grow when it is read: so much of it costs less than the start of a process, about 40 ms.
SMALL_TEXT = 256 * 1024
# One sending reads its file several times: for what its columns are, for what is asked, and for its rows. A process
# takes a third of a second, so what the last few files held is kept, while that is little.
MOST_KEPT, MOST_KEPT_BYTES = 4, 1024 * 1024
_LATELY: dict[tuple[str, str, str], bytes] = {}


def numbered_lines(
    content: bytes, *, most_rows: int, most_lines: int, most_cells: int = MOST_CELLS
) -> tuple[Iterator[tuple[int, list[str]]], str]:
    """The lines of the first sheet that hold anything, numbered in the file from 1, and its media type."""
    found, media_type = sheets(content, most_rows=most_rows, most_lines=most_lines, most_cells=most_cells)
    return iter(found[0].lines), media_type


@dataclass(frozen=True)
class Sheet:
    """A sheet of a workbook, or a text, which has no name: the lines that hold anything, numbered from 1."""

    name: str
    lines: list[tuple[int, list[str]]]


def sheets(
    content: bytes, *, most_rows: int, most_lines: int, most_cells: int = MOST_CELLS, separator: str = ""
) -> tuple[list[Sheet], str]:
    """The sheets of a file, at least one, and its media type; `separator` is one of `unpacking.read`.

    `most_rows` bounds the rows under the head, `most_lines` all lines with the empty ones, of which a worksheet may
    have very many. Raises Refused, naming what would be right, for a file that is no table, is more than is read, or
    takes more time or memory than a table of that size can need.
    """
    if not content.strip():
        raise Refused("The file is empty.", field="file")
    if len(content) > settings.UPLOAD_MAX_BYTES:
        allowed = settings.UPLOAD_MAX_BYTES // 2**20
        raise Refused(f"The file has {len(content) / 2**20:.0f} MB; at most {allowed} MB are read.", field="file")
    limits = Limits(
        rows=most_rows + 1, lines=most_lines, columns=MOST_COLUMNS, cells=most_cells,
        characters=2 * settings.UPLOAD_MAX_BYTES, unpacked=MOST_UNPACKED,
        memory=settings.TABLE_READ_MEMORY_MB * 2**20, seconds=settings.TABLE_READ_SECONDS,
    )  # fmt: skip
    packed = content.startswith((unpacking.PACKED, unpacking.OLD_WORKBOOK))
    read = _read_apart if packed or len(content) > SMALL_TEXT else unpacking.read
    try:
        found, media_type = read(content, limits, separator)
    except Unreadable as refusal:
        raise Refused(str(refusal), field="file") from None
    return [
        Sheet(name, [(number, [unshielded(cell) for cell in cells]) for number, cells in lines])
        for name, lines in found
    ], media_type


def shielded(cell: str) -> str:
    """The text so that a spreadsheet shows it and runs nothing; a number, also a negative one, stays as it is."""
    return f"'{cell}" if _would_run(cell.lstrip("'")) else cell


def unshielded(cell: str) -> str:
    """What was shielded, as it was before."""
    return cell[1:] if cell.startswith("'") and _would_run(cell.lstrip("'")) else cell


def _would_run(cell: str) -> bool:
    return cell.startswith(FORMULA) and not NUMBER.fullmatch(cell)


def _read_apart(content: bytes, limits: Limits, separator: str) -> tuple[unpacking.Sheets, str]:
    """Read by a process of its own, which knows nothing of the site: no settings, no environment, no database."""
    bounds = json.dumps(asdict(limits))
    key = hashlib.sha256(content).hexdigest(), bounds, separator
    if (kept := _LATELY.get(key)) is not None:
        answer: Any = json.loads(kept)
        return answer["sheets"], answer["media_type"]
    command = [sys.executable, "-I", unpacking.__file__, bounds, separator]
    too_long = Unreadable(
        f"The file was not read within {limits.seconds} seconds; save the sheet that is wanted as CSV, or divide it."
    )
    try:
        done = subprocess.run(
            command, input=content, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env={}, timeout=limits.seconds,
            check=False,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        raise too_long from None
    if done.returncode in (-signal.SIGXCPU, -signal.SIGKILL):
        raise too_long
    answer = json.loads(done.stdout) if done.returncode == 0 else {"unreadable": None}
    if "unreadable" in answer:
        raise Unreadable(
            answer["unreadable"]
            or "The file takes more memory than a table of that size can need; save the sheet that is wanted as CSV."
        )
    if len(done.stdout) <= MOST_KEPT_BYTES:
        for old in [*_LATELY][: max(0, len(_LATELY) - MOST_KEPT + 1)]:
            _LATELY.pop(old, None)
        _LATELY[key] = done.stdout
    return answer["sheets"], answer["media_type"]
