"""What `manage.py verify` finds: each difference between what is stored and what was recorded, one sentence each.

Everything is read as a stream, so that the largest record is all that is in memory at once; nothing is written.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from django.db import connection

from accounts.chain import Head
from inspection.foundation import triggers
from reports.verify import decisions, diary, drawings, files, journal, logs, papers, records, repaired


def differences(heads: Iterable[Head] = ()) -> Iterator[str]:
    """Every difference found; `heads` are those an auditor holds, from letters and papers that left the house."""
    yield from triggers.missing(connection)
    yield from journal.differences(heads)
    yield from records.differences()
    yield from decisions.differences()
    yield from repaired.differences()
    yield from diary.differences()
    yield from drawings.differences()
    yield from files.differences()
    yield from papers.differences()
    yield from logs.differences()
