"""A form for any calculation, made from what the standards core says of its inputs: typed text in, named values out."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from typing import Any

from inspection.standards import InputFault
from inspection.standards.fields import NO_DEFAULT, FieldSpec
from inspection.standards.registry import Calculation
from inspection.standards.units import shown

MOST_ROWS = 200
MOST_TEXT = 200_000
LONGEST_NUMBER = 40
FEWEST_FOLDED = 3
MOST_NAMED = 4
HINTS = {
    "list": "Several numbers, separated by spaces or semicolons.",
    "lists": "One line for each group; numbers separated by spaces or semicolons.",
    "texts": "One a line.",
    "dated": "One a line: a date and a number, such as 2024-05-31 1.2.",
    "timed": "One a line: date, time with offset, and a number, such as 2026-05-31T08:30+02:00 14.5.",
    "shares": "One a line: a name and a number, such as B 60.",
}


class Wrong(ValueError):
    """What was typed cannot be read; the sentence says what would be right."""


@dataclass
class Input:
    """One input as the page shows it: a name of its own, what was typed, what is wrong with it."""

    spec: FieldSpec
    name: str
    unit: str
    text: str
    faults: list[str] = field(default_factory=list)

    @property
    def id(self) -> str:
        return f"id_{self.name}"

    @property
    def label(self) -> str:
        return f"{self.spec.label}, {self.unit}" if self.unit else self.spec.label

    @property
    def widget(self) -> str:
        """choice, flag, day, line or lines: which control the template draws."""
        if self.spec.kind in ("choice", "flag", "day"):
            return self.spec.kind
        return "lines" if self.spec.depth or self.spec.kind == "shares" else "line"

    @property
    def inputmode(self) -> str:
        """The keys a phone shows: those for decimals lack the minus on some, so only where nothing is below zero."""
        if self.widget != "line" or self.spec.kind not in ("number", "thickness"):
            return ""
        lowest = self.spec.minimum if self.spec.minimum is not None else self.spec.above
        return "decimal" if lowest is not None and lowest >= 0 else "text"

    @property
    def touched(self) -> bool:
        """Something stands here that is not there by itself."""
        untouched = {_default(self.spec)} if self.spec.kind == "flag" else {"", _default(self.spec)}
        return bool(self.faults) or self.text.strip() not in untouched

    @property
    def hint(self) -> str:
        return " ".join(part for part in (self.spec.help, HINTS.get(_way(self.spec), "")) if part)

    @property
    def options(self) -> list[str]:
        return [str(option) for option in self.spec.options]


@dataclass
class Group:
    """A repeated input: rows of inputs, as many as wanted."""

    spec: FieldSpec
    rows: list[list[Input]]
    faults: list[str] = field(default_factory=list)

    @property
    def name(self) -> str:
        return self.spec.name

    @property
    def touched(self) -> bool:
        return bool(self.faults) or any(one.touched for row in self.rows for one in row)


class CalculatorForm:
    """What was typed for a calculation. `given()` reads it; `mark` puts the core's faults beside the inputs."""

    def __init__(self, calculation: Calculation, typed: Mapping[str, str] | None) -> None:
        self.calculation = calculation
        self.bound = typed is not None
        self.typed = typed or {}
        self.unit = "mil" if self.typed.get("unit") == "mil" else "um"
        self.has_thickness = any(spec.is_thickness for spec in _all_specs(calculation))
        self.general: list[str] = []
        self.items: list[Input | Group] = [
            self._group(spec) if spec.kind == "items" else self._input(spec, spec.name) for spec in calculation.inputs
        ]
        # Rows left empty are no items; the core counts only those that are filled in.
        self._filled: dict[str, list[int]] = {}

    def _input(self, spec: FieldSpec, name: str) -> Input:
        unit = spec.unit
        if spec.is_thickness and self.unit == "mil":
            unit = "mil"
        text = self.typed.get(name, "" if self.bound else _default(spec))[:MOST_TEXT]
        return Input(spec, name, unit, text)

    def _group(self, spec: FieldSpec) -> Group:
        try:
            count = int(self.typed.get(f"{spec.name}-rows", 1))
        except ValueError:
            count = 1
        count = max(1, min(count, MOST_ROWS)) + (self.typed.get("more") == spec.name)
        rows = [
            [self._input(inner, f"{spec.name}-{row}-{inner.name}") for inner in spec.item_fields]
            for row in range(count)
        ]
        return Group(spec, rows)

    @property
    def seldom(self) -> list[Input | Group]:
        """What the calculation's own example does without and need not be given; folded once it is several."""
        example = self.calculation.example
        rest = [
            item for item in self.items
            if not item.spec.required and not any(name in example for name in item.spec.names)
        ]  # fmt: skip
        return rest if len(rest) >= FEWEST_FOLDED else []

    @property
    def seldom_named(self) -> str:
        """The first of what is folded, so that whoever looks for another way of giving a value opens it."""
        labels = [item.spec.label for item in self.seldom]
        more = f" and {len(labels) - MOST_NAMED} more" if len(labels) > MOST_NAMED else ""
        return ", ".join(label[:1].lower() + label[1:] for label in labels[:MOST_NAMED]) + more

    @property
    def usual(self) -> list[Input | Group]:
        seldom = self.seldom
        return [item for item in self.items if item not in seldom]

    @property
    def seldom_touched(self) -> bool:
        """Something is filled in, or wrong, in what is folded: then it stands open."""
        added = self.typed.get("more")
        return any(item.touched or item.name == added for item in self.seldom)

    @property
    def asks_for_rows(self) -> bool:
        return bool(self.typed.get("more"))

    @property
    def inputs(self) -> Iterator[Input]:
        for item in self.items:
            if isinstance(item, Group):
                for row in item.rows:
                    yield from row
            else:
                yield item

    @property
    def faults(self) -> list[tuple[str, str]]:
        """Every fault as (id of the input, sentence), for the list on top."""
        found = [("", message) for message in self.general]
        for item in self.items:
            if isinstance(item, Group):
                found += [(f"id_{item.name}-0-{item.rows[0][0].spec.name}", message) for message in item.faults]
        found += [(one.id, f"{one.label}: {message}") for one in self.inputs for message in one.faults]
        return found

    def given(self) -> dict[str, Any] | None:
        """The typed values under the names of the core; None when something cannot be read at all."""
        values: dict[str, Any] = {}
        for item in self.items:
            if isinstance(item, Group):
                rows = self._rows(item)
                if rows:
                    values[item.spec.name] = rows
            else:
                values |= self._value(item)
        return None if self.faults else values

    def _rows(self, group: Group) -> list[dict[str, Any]]:
        rows = []
        for number, row in enumerate(group.rows):
            # A default stands in every row and says nothing of whether the row is meant.
            if any(one.text.strip() not in ("", _default(one.spec)) for one in row):
                rows.append({name: value for one in row for name, value in self._value(one).items()})
                self._filled.setdefault(group.spec.name, []).append(number)
        return rows

    def _value(self, one: Input) -> dict[str, Any]:
        name = one.spec.mil_name if one.spec.is_thickness and self.unit == "mil" else one.spec.name
        if one.spec.kind == "flag":
            return {name: bool(one.text)}
        if not one.text.strip():
            return {}
        try:
            return {name: _read(one.spec, one.text.strip())}
        except Wrong as wrong:
            one.faults.append(str(wrong))
            return {}

    def mark(self, refused: InputFault) -> None:
        """Put each fault of the core beside the input it names; what names none stands on top."""
        by_name = {one.name: one for one in self.inputs}
        groups = {item.name: item for item in self.items if isinstance(item, Group)}
        for fault in refused.faults:
            one = by_name.get(self._name_of(fault.field))
            head = re.split(r"[.\[]", fault.field)[0]
            message = _with_place(fault.field, fault.message)
            if one:
                one.faults.append(message)
            elif head in groups:
                groups[head].faults.append(f"{groups[head].spec.label}: {message}")
            else:
                self.general.append(f"{fault.field}: {fault.message}")

    def _name_of(self, path: str) -> str:
        path = re.sub(r"_mil(?=$|[.\[])", "_um", path)
        found = re.match(r"(\w+)\[(\d+)\]\.(\w+)", path)
        if found:
            rows = self._filled.get(found[1], [])
            place = int(found[2])
            return f"{found[1]}-{rows[place]}-{found[3]}" if place < len(rows) else ""
        return re.split(r"[.\[]", path)[0]

    def fill(self, example: Mapping[str, Any]) -> CalculatorForm:
        """The same form with the calculation's own example typed in."""
        typed: dict[str, str] = {}
        for spec in self.calculation.inputs:
            name = next((name for name in spec.names if name in example), None)
            if name is None:
                typed[spec.name] = _default(spec)
                continue
            if name.endswith("_mil"):
                typed["unit"] = "mil"
            if spec.kind == "items":
                typed[f"{spec.name}-rows"] = str(len(example[name]))
                for row, item in enumerate(example[name]):
                    for inner in spec.item_fields:
                        if inner.name in item:
                            typed[f"{spec.name}-{row}-{inner.name}"] = _typed(inner, item[inner.name])
            else:
                typed[spec.name] = _typed(spec, example[name])
        return CalculatorForm(self.calculation, typed)


def _all_specs(calculation: Calculation) -> Iterator[FieldSpec]:
    for spec in calculation.inputs:
        yield spec
        yield from spec.item_fields


def _default(spec: FieldSpec) -> str:
    if spec.default is NO_DEFAULT or spec.default is None:
        return ""
    if spec.kind == "flag":
        return "on" if spec.default else ""
    return shown(spec.default, 9)


def _way(spec: FieldSpec) -> str:
    if spec.kind in ("dated", "timed", "shares"):
        return spec.kind
    if spec.kind == "text":
        return "texts" if spec.depth else ""
    return ("", "list", "lists")[spec.depth]


def _typed(spec: FieldSpec, value: Any) -> str:
    """A value of an example as a person would type it."""
    way = _way(spec)
    if way in LINES_OF:
        return "\n".join(LINES_OF[way](part) for part in (value.items() if isinstance(value, Mapping) else value))
    if way in ("list", "texts"):
        between = " " if way == "list" else "\n"
        return between.join(map(str, value)) if isinstance(value, list | tuple) else str(value)
    if spec.kind == "flag":
        return "on" if value else ""
    return str(value)


LINES_OF: dict[str, Callable[[Any], str]] = {
    "dated": lambda point: f"{point['date']} {point['value']}",
    "timed": lambda point: f"{point['at']} {point['value']}",
    "shares": lambda named: f"{named[0]} {named[1]}",
    "lists": lambda part: " ".join(map(str, part)) if isinstance(part, list | tuple) else str(part),
}


# --- text to values ---------------------------------------------------------------------------------------------------
def _read(spec: FieldSpec, text: str) -> Any:
    readers: dict[str, Callable[[str], Any]] = {
        "dated": lambda text: [_dated(line) for line in _lines(text)],
        "timed": lambda text: [_timed(line) for line in _lines(text)],
        "shares": lambda text: dict(_share(line) for line in _lines(text)),
        "texts": _lines,
        "lists": lambda text: [_group(spec, line) for line in _lines(text)],
        "list": _numbers,
    }
    if reader := readers.get(_way(spec)):
        return reader(text)
    if spec.kind == "choice":
        return next((option for option in spec.options if str(option) == text), text)
    return _number(text) if spec.kind in ("number", "thickness") else text


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]


def _number(text: str) -> Decimal:
    plain = text.strip().replace("\u2212", "-")
    if plain.count(",") == 1 and "." not in plain:
        plain = plain.replace(",", ".")
    try:
        if len(plain) > LONGEST_NUMBER or "_" in plain:
            raise InvalidOperation
        return Decimal(plain)
    except InvalidOperation:
        raise Wrong(f"“{text[:LONGEST_NUMBER]}” is no number; write it like 84.5.") from None


def _numbers(text: str) -> list[Decimal]:
    parts = [part.strip(",") for part in re.split(r"[\s;]+", text) if part.strip(",")]
    if len(parts) == 1 and "," in parts[0]:
        raise Wrong(f"“{parts[0][:LONGEST_NUMBER]}” may be one number or several; separate by spaces or semicolons.")
    return [_number(part) for part in parts]


def _group(spec: FieldSpec, line: str) -> list[Decimal] | Decimal:
    """The numbers of a line; one by itself stands for its group where the calculation takes that."""
    found = _numbers(line)
    return found[0] if spec.loose and len(found) == 1 else found


def _dated(line: str) -> dict[str, Any]:
    date, _, amount = line.replace(";", " ").partition(" ")
    return {"date": date, "value": _number(amount)}


def _timed(line: str) -> dict[str, Any]:
    at, _, amount = line.replace(";", " ").strip().rpartition(" ")
    return {"at": at.strip(), "value": _number(amount)}


def _share(line: str) -> tuple[str, Decimal]:
    name, _, amount = line.replace(";", " ").strip().rpartition(" ")
    if not name:
        raise Wrong(f"“{line[:LONGEST_NUMBER]}” lacks its name or its number; write it like B 60.")
    return name.strip(), _number(amount)


def _with_place(path: str, message: str) -> str:
    """Say which of several numbers is meant, counted from 1."""
    found = re.findall(r"\[(\d+)\]", re.sub(r"^\w+\[\d+\]\.", "", path))
    places = [str(int(index) + 1) for index in found]
    if not places:
        return message
    return f"line {places[0]}, number {places[1]}: {message}" if len(places) == 2 else f"number {places[0]}: {message}"
