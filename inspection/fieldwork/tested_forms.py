"""What the forms of tests share: tables typed as lines, figures, yes and no, and what the last test there was told."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms

from inspection.fieldwork.forms import Observed, OnProject
from inspection.fieldwork.models import Record, TestRecord
from inspection.foundation.form_fields import Figure

LONGEST = 20_000
Row = dict[str, Any]


class LinesField(forms.CharField):
    """A table typed as lines, one a row; `read` makes a row of a line and raises ValueError with what is wrong."""

    def __init__(self, read: Callable[[str], Row], *, rows: int = 4, **kwargs: Any) -> None:
        super().__init__(max_length=LONGEST, widget=forms.Textarea({"rows": rows, "class": "code"}), **kwargs)
        self.read = read

    def to_python(self, value: Any) -> Any:
        found, wrong = [], []
        for number, line in enumerate((super().to_python(value) or "").splitlines(), start=1):
            if not line.strip():
                continue
            try:
                found.append(self.read(line.strip()))
            except ValueError as fault:
                wrong.append(f"Row {number}: {fault}")
        if wrong:
            raise forms.ValidationError(wrong[:20])
        return found


def number(text: str, what: str) -> Decimal:
    """A figure with a point or a decimal comma. Raises ValueError saying what was wanted."""
    try:
        value = Decimal(text.strip().replace(",", "."))
    except InvalidOperation:
        value = Decimal("NaN")
    if not value.is_finite():
        raise ValueError(f"“{text.strip()[:40]}” is no number; {what}")
    return value


def placed(line: str, what: str) -> tuple[str, str]:
    """The place before the first colon of a line, and what was found there. Raises ValueError without a place."""
    place, colon, found = line.partition(":")
    if not colon or not place.strip():
        raise ValueError(f"begin with the place and a colon, such as {what}")
    return place.strip(), found.strip()


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


def as_recorded(**lines: Callable[[Row], str]) -> Callable[[Any], Row]:
    """What the form is filled with to correct a test: what was sent, and by name the lines that give its tables."""

    def filled(record: Any) -> Row:
        tables = {name: "\n".join(map(line_of, record.observed.get(name, ()))) for name, line_of in lines.items()}
        return {"taken_at": record.taken_at, "note": record.note, **record.observed, **tables}

    return filled
