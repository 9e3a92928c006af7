"""All kinds of records, in the order of the work. Lists, pages, API, trace, reports and checks go over this tuple."""

from __future__ import annotations

from importlib import import_module

from inspection.fieldwork.apps import KIND_FOLDERS
from inspection.fieldwork.kind import RecordKind, Reliance, TakenByForm
from inspection.fieldwork.models import Record

KINDS: tuple[RecordKind, ...] = tuple(
    import_module(f"inspection.fieldwork.{folder}.kind").KIND for folder in KIND_FOLDERS
)
BY_NAME: dict[str, RecordKind] = {kind.name: kind for kind in KINDS}
# Their pages and addresses are the same for all.
TAKEN_BY_FORM: tuple[tuple[RecordKind, TakenByForm], ...] = tuple((kind, kind.taken) for kind in KINDS if kind.taken)


def names(*reliances: Reliance) -> list[str]:
    """The names of the kinds whose standing follows from one of these."""
    return [kind.name for kind in KINDS if kind.reliance in reliances]


def kind_of(record: Record) -> RecordKind:
    return BY_NAME[record.kind]
