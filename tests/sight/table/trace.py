"""The trace and the journal."""

from tests.sight.rows import AUDITOR, MANAGER, Row, pk_of

READERS = (MANAGER, AUDITOR)

ROWS = [
    Row("journal", allowed=READERS),
    Row("journal_entry", args=pk_of("entry"), scoped=True, allowed=READERS),
]
