"""What the forms of tests share: tables typed as lines, figures, yes and no, and what the last test there was told."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from inspection.fieldwork.forms import Observed, OnProject
from inspection.fieldwork.models import Record, TestRecord
from inspection.foundation.form_fields import Figure, Row, number
from inspection.standards.cure_tests import PENCILS


def figure(label: str, help_text: str = "", *, required: bool = False, example: str = "5") -> Figure:
    return Figure(label=label, help_text=help_text, required=required, example=example)


class FilmTest(Observed, OnProject):
    """The form of a test of the film after a coat. Of a new one, what the contract says comes from the last there."""

    # Which model it fills, and which of its values are the contract's or the instrument's and stay from test to test.
    model: type[TestRecord]
    stay: tuple[str, ...] = ()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        of_project = self.model._default_manager.filter(project=self.project)  # type: ignore[attr-defined]  # every kind has one
        last: Record | None = None if self.is_bound or self.initial.get("method") else of_project.newest_first().first()
        if last:
            kept = last.observed  # type: ignore[attr-defined]  # a test's own
            self.initial = {**{name: kept[name] for name in self.stay if name in kept}, **self.initial}


class TestByMethod(FilmTest):
    """One of several methods: each reads what was found at a place, and the least of the contract, in its own way."""

    __test__ = False

    def read(self, method: str, found: str) -> Row:
        """What was found at a place, by the method. Raises ValueError saying what is wanted."""
        raise NotImplementedError

    def clean(self) -> dict[str, Any]:
        """A place is read as the method has it, and so is the least."""
        values: dict[str, Any] = super().clean() or {}
        wrong, read = [], []
        for row, place in enumerate(values.get("places") or (), start=1):
            try:
                read.append({"place": place["place"], **self.read(values.get("method", ""), place["found"])})
            except ValueError as fault:
                wrong.append(f"Row {row}: {fault}")
        if wrong:
            self.add_error("places", wrong)
        return values | {"places": read, "least": _least(values.get("least", ""))}


def _least(text: str) -> Decimal | str:
    """A pencil as it is called, else a number; what is neither is the action's to refuse."""
    if not text or text.upper() in PENCILS:
        return text.upper()
    try:
        return number(text, "")
    except ValueError:
        return text


def as_recorded(**lines: Callable[[Row], str]) -> Callable[[Any], Row]:
    """What the form is filled with to correct a test: what was sent, and by name the lines that give its tables."""

    def filled(record: Any) -> Row:
        tables = {name: "\n".join(map(line_of, record.observed.get(name, ()))) for name, line_of in lines.items()}
        return {"taken_at": record.taken_at, "note": record.note, **record.observed, **tables}

    return filled
