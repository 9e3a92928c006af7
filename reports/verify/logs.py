"""Loggers' files: what was read of them against the file they were read from, and against the journal."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from zoneinfo import ZoneInfo

import numpy as np

from accounts import vault
from inspection.fieldwork.climate.models import LoggerFile
from inspection.fieldwork.climate.samples import KEPT, READ_AS, read_samples, unpacked
from inspection.foundation.refusals import Refused
from inspection.foundation.shaping import told
from inspection.standards.logged_climate import Log
from reports.verify.told import disagreements, told_of


def differences() -> Iterator[str]:
    files = LoggerFile.objects.select_related("station", "file").order_by("pk")
    for batch in told_of(files, ("loggerfile.stored",), at_once=1):
        for row, entry in batch:
            what = f"logger's file {row.pk} ({row})"
            stored = {
                "digest": row.file_id, "rows": row.rows, "first": row.first_at, "last": row.last_at,
                "columns": row.columns, "shape": row.shape, "samples": hashlib.sha256(bytes(row.samples)).hexdigest(),
            }  # fmt: skip
            yield from disagreements(what, stored, entry)
            yield from (f"{what}: {words}" for words in _read_otherwise(row))


def _read_otherwise(row: LoggerFile) -> Iterator[str]:
    try:
        kept = unpacked(row.samples)
    except Exception:  # whatever bytes somebody has put there
        yield "its samples cannot be read"
        return
    try:
        content = vault.content_of(row.file)
    except Refused:
        return  # told with the files
    try:
        shape = told(row.shape, READ_AS.meanings) if row.shape else None
        read = read_samples(content, zone=ZoneInfo(row.time_zone), named=row.columns, shape=shape)
    except Refused as refusal:
        yield f"its file cannot be read any more: {refusal}"
        return
    if not _same(kept, read.log):
        yield "its samples are not those of its file"


def _same(kept: Log, read: Log) -> bool:
    pairs = ((getattr(kept, name), getattr(read, name)) for name in ("at_s", *KEPT))
    return all(np.array_equal(one, other, equal_nan=True) for one, other in pairs)
