"""What a kind of record asks, said once: the form's field, the API's, bounds and words follow from it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from rest_framework import serializers

from accounts.api import Strict
from inspection.fieldwork.storing import LONGEST_REASON
from inspection.foundation.form_fields import Day, Figure
from inspection.foundation.refusals import Fault
from inspection.foundation.text import wrong_on_a_line
from inspection.projects.models import Project
from inspection.projects.preconditions import in_time
from inspection.projects.serializers import Moment as MomentSent

LONGEST_LINES = 20_000
MOST_TOLD = 20
FIRST_YEAR, LAST_YEAR = 2000, 2100


class JsonNumber(serializers.DecimalField):
    """A JSON number, never a text."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, bool | str) or not isinstance(data, int | float | Decimal):
            raise serializers.ValidationError("Give a JSON number, such as 18.5, without quotation marks.")
        return super().to_internal_value(data)


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One thing asked of whoever records; its name is the column's, the form's field and the API's."""

    name: str
    label: str
    help: str = ""
    required: bool = True
    # Asked only since a later version: where nothing was given, digests stay what they were.
    later: bool = False

    @property
    def empty(self) -> Any:
        """What stands in the column where nothing was given."""
        return ""

    def in_form(self) -> forms.Field:
        raise NotImplementedError

    def sent(self) -> serializers.Field:
        raise NotImplementedError

    def read(self, text: str) -> Any:
        """What one word of a line gives; raises ValueError with a sentence."""
        raise NotImplementedError

    def faults(self, value: Any) -> Iterator[str]:
        """What is wrong with a value that was given, a sentence each."""
        raise NotImplementedError

    def all_faults(self, value: Any) -> list[Fault]:
        if value in (None, "", []):
            return [Fault("Fill this in.", self.name)] if self.required else []
        return [Fault(words, self.name) for words in self.faults(value)]

    def shown(self, value: Any, project: Project) -> str:
        """As a page tells it; empty where nothing was given."""
        return "" if value is None else str(value)

    def typed(self, value: Any) -> Any:
        """As it stands in the form to be corrected."""
        return value

    def _for_api(self, **more: Any) -> dict[str, Any]:
        told = {**more, "help_text": ". ".join(part for part in (self.label, self.help.rstrip(".")) if part)}
        return told if self.required else {**told, "required": False, "default": self.empty}


@dataclass(frozen=True, kw_only=True)
class Words(Asked):
    """A line of text."""

    longest: int = LONGEST_REASON

    def in_form(self) -> forms.Field:
        return forms.CharField(
            label=self.label, help_text=self.help, required=self.required, max_length=self.longest
        )  # fmt: skip

    def sent(self) -> serializers.Field:
        return serializers.CharField(max_length=self.longest, **self._for_api(allow_blank=not self.required))

    def read(self, text: str) -> str:
        return text

    def faults(self, value: Any) -> Iterator[str]:
        if len(value) > self.longest:
            yield f"Give at most {self.longest} characters; these are {len(value)}."
        if wrong := wrong_on_a_line(value):
            yield wrong


@dataclass(frozen=True, kw_only=True)
class Choice(Asked):
    """One of several, by a word without spaces."""

    choices: Sequence[tuple[str, str]]

    @property
    def words(self) -> dict[str, str]:
        return {str(code): str(label) for code, label in self.choices}

    def in_form(self) -> forms.Field:
        unsaid = [("", "Choose" if self.required else "Not said")]
        return forms.ChoiceField(
            label=self.label, help_text=self.help, required=self.required, choices=[*unsaid, *self.words.items()]
        )

    def sent(self) -> serializers.Field:
        return serializers.ChoiceField(list(self.words.items()), **self._for_api(allow_blank=not self.required))

    def read(self, text: str) -> str:
        found = next((code for code in self.words if code.casefold() == text.casefold()), "")
        if not found:
            raise ValueError(f"“{text[:40]}” is none of {', '.join(self.words)}.")
        return found

    def faults(self, value: Any) -> Iterator[str]:
        if value not in self.words:
            yield f"Give one of {', '.join(self.words)}."

    def shown(self, value: Any, project: Project) -> str:
        return self.words.get(str(value), str(value))


@dataclass(frozen=True, kw_only=True)
class Number(Asked):
    """A number within bounds, ends included; whole where `places` is 0."""

    unit: str = ""
    least: Decimal | int = 0
    most: Decimal | int
    places: int = 0

    @property
    def empty(self) -> Any:
        return None

    @property
    def _digits(self) -> int:
        return len(str(int(self.most))) + self.places

    def in_form(self) -> forms.Field:
        label = f"{self.label}, {self.unit}" if self.unit else self.label
        return Figure(label=label, help_text=self.help, required=self.required)

    def sent(self) -> serializers.Field:
        return JsonNumber(
            max_digits=self._digits, decimal_places=self.places, min_value=Decimal(self.least),
            max_value=Decimal(self.most), **self._for_api(allow_null=not self.required),
        )  # fmt: skip

    def read(self, text: str) -> Decimal:
        plain = text.replace("−", "-")
        if plain.count(",") == 1 and "." not in plain:
            plain = plain.replace(",", ".")
        try:
            return Decimal(plain)
        except InvalidOperation:
            raise ValueError(f"“{text[:40]}” is no number.") from None

    def faults(self, value: Any) -> Iterator[str]:
        number = Decimal(str(value))
        if not number.is_finite():
            yield "Give a number."
        elif not self.least <= number <= self.most:
            yield f"Give {self.least} to {self.most}{self._unit}; this is {str(value)[:MOST_TOLD]}."
        elif number != round(number, self.places):
            what = f"at most {self.places} digits after the point" if self.places else "a whole number"
            yield f"Give {what}; this is {str(value)[:MOST_TOLD]}."

    def shown(self, value: Any, project: Project) -> str:
        return "" if value is None else f"{plain(value)}{self._unit}"

    def typed(self, value: Any) -> Any:
        return None if value is None else str(plain(value))

    @property
    def _unit(self) -> str:
        return f" {self.unit}" if self.unit else ""


@dataclass(frozen=True, kw_only=True)
class MomentAsked(Asked):
    """A moment, in the project's own time on the form."""

    @property
    def empty(self) -> Any:
        return None

    def in_form(self) -> forms.Field:
        widget = forms.DateTimeInput(attrs={"type": "datetime-local", "step": "1"}, format="%Y-%m-%dT%H:%M:%S")
        return forms.DateTimeField(label=self.label, help_text=self.help, required=self.required, widget=widget)

    def sent(self) -> serializers.Field:
        return MomentSent(**self._for_api(allow_null=not self.required))

    def faults(self, value: datetime) -> Iterator[str]:
        for fault in in_time(value, self.name):
            yield fault.message

    def shown(self, value: Any, project: Project) -> str:
        return "" if value is None else f"{value.astimezone(project.zone):%Y-%m-%d %H:%M}"


@dataclass(frozen=True, kw_only=True)
class DayAsked(Asked):
    """A date."""

    @property
    def empty(self) -> Any:
        return None

    def in_form(self) -> forms.Field:
        return Day(label=self.label, help_text=self.help, required=self.required)

    def sent(self) -> serializers.Field:
        return serializers.DateField(**self._for_api(allow_null=not self.required))

    def faults(self, value: date) -> Iterator[str]:
        if not FIRST_YEAR <= value.year <= LAST_YEAR:
            yield f"{value} cannot be right; check the year."

    def shown(self, value: Any, project: Project) -> str:
        return "" if value is None else f"{value:%Y-%m-%d}"


@dataclass(frozen=True, kw_only=True)
class Rows(Asked):
    """A line for each of several: its place, a colon, then words and numbers; kept as a list of objects.

    Numbers are taken in the order of `of`; a word that a choice knows is that choice's, wherever it stands.
    """

    one: str
    of: tuple[Asked, ...]
    most: int = 200
    place: Words = field(default_factory=lambda: Words(name="place", label="Place", required=False))

    @property
    def empty(self) -> Any:
        return []

    @property
    def cells(self) -> tuple[Asked, ...]:
        return (self.place, *self.of)

    def in_form(self) -> forms.Field:
        return RowsField(self, label=self.label, help_text=self.help, required=self.required)

    def sent(self) -> serializers.Field:
        named = {cell.name: cell.sent() for cell in self.cells}
        child = type(f"{self.one.title().replace(' ', '')}SentSerializer", (Strict,), named)
        return serializers.ListField(
            child=child(), min_length=int(self.required), max_length=self.most, **self._for_api()
        )

    def faults(self, value: Any) -> Iterator[str]:
        raise NotImplementedError("rows have faults of their own, with the number of each row")

    def all_faults(self, value: Any) -> list[Fault]:
        if not value:
            return [Fault(f"Give a line for each {self.one}.", self.name)] if self.required else []
        if len(value) > self.most:
            return [Fault(f"Give at most {self.most} lines.", self.name)]
        return [
            Fault(_of_cell(cell, fault.message), self.name, number)
            for number, row in enumerate(value, start=1)
            for cell in self.cells
            for fault in cell.all_faults(row.get(cell.name))
        ]

    def kept(self, rows: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
        """The rows as they are stored: every cell, numbers plain."""
        return [{cell.name: _cell(row.get(cell.name, cell.empty)) for cell in self.cells} for row in rows]

    def shown(self, value: Any, project: Project) -> str:
        return f"{len(value)}" if value else ""

    def typed(self, value: Any) -> Any:
        return "\n".join(self._line(row) for row in value)

    def _line(self, row: dict[str, Any]) -> str:
        cells = " ".join(str(row[cell.name]) for cell in self.of if row[cell.name] not in (None, ""))
        return f"{row['place']}: {cells}" if row["place"] else cells

    def parse(self, line: str) -> dict[str, Any]:
        """The row that a line gives. Raises ValueError with a sentence."""
        place, colon, rest = line.rpartition(":")
        found: dict[str, Any] = {"place": place.strip() if colon else ""}
        left = list(self.of)
        for word in re.split(r"[;\s]+", rest.strip()):
            if not word:
                continue
            taken: Asked | None = next((cell for cell in left if isinstance(cell, Choice) and _knows(cell, word)), None)
            taken = taken or next((cell for cell in left if not isinstance(cell, Choice) or cell.required), None)
            if taken is None:
                raise ValueError(f"“{word[:40]}” is one word too many.")
            found[taken.name] = taken.read(word)
            left.remove(taken)
        for cell in left:
            if cell.required:
                raise ValueError(f"{cell.label} is missing.")
        return found


class RowsField(forms.CharField):
    """Lines of text, as the rows they give."""

    def __init__(self, rows: Rows, **kwargs: Any) -> None:
        super().__init__(
            max_length=LONGEST_LINES,
            widget=forms.Textarea({"rows": 5, "class": "code", "spellcheck": "false"}),
            **kwargs,
        )
        self.rows = rows

    def to_python(self, value: Any) -> Any:
        found, faults = [], []
        for number, line in enumerate((super().to_python(value) or "").splitlines(), start=1):
            if line.strip():
                try:
                    found.append(self.rows.parse(line))
                except ValueError as wrong:
                    faults.append(f"row {number}: {wrong}")
        if faults:
            raise forms.ValidationError(faults[:MOST_TOLD])
        return found


def plain(value: Any) -> int | float:
    """A number as JSON writes it, whole where it is."""
    number = Decimal(str(value))
    return int(number) if number == number.to_integral_value() else float(number)


def _cell(value: Any) -> Any:
    return plain(value) if isinstance(value, Decimal | int | float) and not isinstance(value, bool) else value


def _knows(cell: Choice, word: str) -> bool:
    return word.casefold() in {code.casefold() for code in cell.words}


def _of_cell(cell: Asked, message: str) -> str:
    return f"{cell.label}: {message[0].lower()}{message[1:]}"
