"""Inputs described once: label, unit, bounds and help of every field, and the reading of a mapping into a dataclass.

A calculation's input is a frozen dataclass whose fields are made by the helpers below, for example::

    @dataclass(frozen=True)
    class Inputs:
        minimum_um: Fraction = thickness("Specified minimum")
        spots_um: tuple[tuple[Fraction, ...], ...] = thickness_lists("Readings of each spot")

The annotation decides the type of a number: ``Fraction`` (exact), ``float`` or ``int`` (a whole number is asked).
A field whose name ends in ``_um`` is a thickness and may be given as ``_mil`` instead; it arrives in micrometres.
Cross-field rules go into ``__post_init__``, which raises :class:`InputFault`.
"""

# ruff: noqa: A002 - "help" is what a form calls it

from __future__ import annotations

import dataclasses
import re
import types
import typing
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from difflib import get_close_matches
from fractions import Fraction
from functools import cache
from itertools import islice
from numbers import Number
from typing import Any

from inspection.standards.bounds import ABSURD_NUMBER, keep_within, plain_numbers
from inspection.standards.faults import Fault, InputFault
from inspection.standards.moments import EARLIEST_YEAR, moment_of
from inspection.standards.units import UM_PER_MIL, exact

ABSURD_UM = 100_000
MOST_ITEMS = 200_000
MOST_CHARACTERS = 500
NO_DEFAULT = object()
_UNWRITABLE = re.compile("[\x00-\x1f\x7f\ud800-\udfff]")

UNITS_BY_SUFFIX = {
    "um": "µm", "mil": "mil", "c": "°C", "f": "°F", "pct": "%", "m2": "m²", "ft2": "ft²", "cm2": "cm²", "mm": "mm",
    "ml": "ml", "l": "l", "hpa": "hPa", "pa": "Pa", "mpa": "MPa", "v": "V", "kv": "kV", "n": "N", "h": "h",
    "days": "d", "k": "K", "m": "m", "deg": "°",
}  # fmt: skip


class Bare(tuple[Any, ...]):
    """One bare number where a list was asked for: as a list of one, but told apart from it."""

    __slots__ = ()


@dataclasses.dataclass(frozen=True, kw_only=True)
class FieldSpec:
    """All a form, an API or a command line needs to know about one field."""

    kind: str
    """thickness, number, choice, text, flag, day, dated, timed, shares, items or result"""
    label: str
    unit: str = ""
    help: str = ""
    name: str = ""
    attribute: str = ""
    """the name in Python: with a trailing underscore where the name is a keyword (``lambda_``)"""
    depth: int = 0
    """0: one value, 1: a list, 2: a list of lists"""
    loose: bool = False
    """a bare number may stand for a list of one"""
    optional: bool = False
    default: Any = NO_DEFAULT
    minimum: Fraction | None = None
    above: Fraction | None = None
    maximum: Fraction | None = None
    options: tuple[str | int, ...] = ()
    item_type: type | None = None
    fewest: int = 0
    most: int = MOST_ITEMS
    number_type: type = Fraction

    @property
    def required(self) -> bool:
        return not self.optional and self.default is NO_DEFAULT

    @property
    def is_thickness(self) -> bool:
        return self.name.endswith("_um")

    @property
    def mil_name(self) -> str:
        return self.name.removesuffix("_um") + "_mil"

    @property
    def names(self) -> tuple[str, ...]:
        """The names this field may be given under."""
        return (self.name, self.mil_name) if self.is_thickness else (self.name,)

    @property
    def item_fields(self) -> tuple[FieldSpec, ...]:
        return fields_of(self.item_type) if self.item_type else ()


def _field(spec: FieldSpec) -> Any:
    extra: dict[str, Any] = {"metadata": {"spec": spec}, "kw_only": True}
    if spec.optional:
        extra["default"] = None
    elif spec.default is not NO_DEFAULT:
        extra["default"] = spec.default
    return dataclasses.field(**extra)


Bound = int | float | Fraction | None


def _bound(value: Bound) -> Fraction | None:
    return None if value is None else exact(value)


def _numeric(kind: str, label: str, *, depth: int = 0, default: Any = NO_DEFAULT, **given: Any) -> Any:
    for bound in ("minimum", "above", "maximum"):
        given[bound] = _bound(given.get(bound))
    if isinstance(default, int | float) and not isinstance(default, bool):
        default = exact(default)
    return _field(FieldSpec(kind=kind, label=label, depth=depth, default=default, **given))


def thickness(
    label: str, *, help: str = "", optional: bool = False, default: Any = NO_DEFAULT,
    minimum: Bound = 0, above: Bound = None, maximum: Bound = ABSURD_UM,
) -> Any:  # fmt: skip
    """One thickness in micrometres (``Fraction``); bounds are in micrometres."""
    return _numeric("thickness", label, help=help, optional=optional, default=default,
                    minimum=minimum, above=above, maximum=maximum)  # fmt: skip


def thicknesses(
    label: str, *, help: str = "", optional: bool = False, loose: bool = False, minimum: Bound = 0,
    maximum: Bound = ABSURD_UM, fewest: int = 1, most: int = MOST_ITEMS,
) -> Any:  # fmt: skip
    """A list of thicknesses (``tuple[Fraction, ...]``); ``loose`` lets one bare number stand for a list of one."""
    return _numeric("thickness", label, help=help, optional=optional, depth=1, loose=loose,
                    minimum=minimum, maximum=maximum, fewest=fewest, most=most)  # fmt: skip


def thickness_lists(
    label: str, *, help: str = "", optional: bool = False, loose: bool = False, minimum: Bound = 0,
    maximum: Bound = ABSURD_UM, fewest: int = 1, most: int = MOST_ITEMS,
) -> Any:  # fmt: skip
    """A list of lists of thicknesses; ``loose`` lets a bare number (``Bare``) stand for an inner list of one."""
    return _numeric("thickness", label, help=help, optional=optional, depth=2, loose=loose,
                    minimum=minimum, maximum=maximum, fewest=fewest, most=most)  # fmt: skip


def number(
    label: str, *, unit: str = "", help: str = "", optional: bool = False, default: Any = NO_DEFAULT,
    minimum: Bound = None, above: Bound = None, maximum: Bound = ABSURD_NUMBER,
) -> Any:  # fmt: skip
    """One number: exact ``Fraction``, ``float`` or whole ``int``, as the field is annotated. ``above`` is exclusive."""
    return _numeric("number", label, unit=unit, help=help, optional=optional, default=default,
                    minimum=minimum, above=above, maximum=maximum)  # fmt: skip


def numbers(
    label: str, *, unit: str = "", help: str = "", optional: bool = False, loose: bool = False, minimum: Bound = None,
    above: Bound = None, maximum: Bound = ABSURD_NUMBER, fewest: int = 1, most: int = MOST_ITEMS,
) -> Any:  # fmt: skip
    """A list of numbers."""
    return _numeric("number", label, unit=unit, help=help, optional=optional, depth=1, loose=loose,
                    minimum=minimum, above=above, maximum=maximum, fewest=fewest, most=most)  # fmt: skip


def shares(label: str, *, unit: str = "", help: str = "", optional: bool = False, minimum: Bound = 0,
           maximum: Bound = 100) -> Any:  # fmt: skip
    """Numbers by name (``dict[str, Fraction]``), such as ``{"B": 60, "B/C": 40}``."""
    return _numeric("shares", label, unit=unit, help=help, optional=optional, minimum=minimum, maximum=maximum,
                    fewest=1)  # fmt: skip


def dated_values(label: str, *, unit: str = "", help: str = "", minimum: Bound = -ABSURD_NUMBER,
                 maximum: Bound = ABSURD_NUMBER, fewest: int = 1, optional: bool = False) -> Any:  # fmt: skip
    """``[{"date": "2024-05-31", "value": 1.2}, …]`` as ``tuple[tuple[date, Fraction], ...]``."""
    return _numeric("dated", label, unit=unit, help=help, minimum=minimum, maximum=maximum, depth=1, fewest=fewest,
                    optional=optional)  # fmt: skip


def timed_values(label: str, *, unit: str = "", help: str = "", minimum: Bound = -ABSURD_NUMBER,
                 maximum: Bound = ABSURD_NUMBER, fewest: int = 1, most: int = MOST_ITEMS) -> Any:  # fmt: skip
    """``[{"at": "2026-05-31T08:30+02:00", "value": 14.5}, …]`` as ``tuple[tuple[datetime, Fraction], ...]``."""
    return _numeric("timed", label, unit=unit, help=help, minimum=minimum, maximum=maximum, depth=1, fewest=fewest,
                    most=most)  # fmt: skip


def choice(label: str, options: Sequence[str | int], *, help: str = "", optional: bool = False,
           default: Any = NO_DEFAULT) -> Any:  # fmt: skip
    """One of the options, exactly as written."""
    return _field(FieldSpec(kind="choice", label=label, help=help, optional=optional, default=default,
                            options=tuple(options)))  # fmt: skip


def text(label: str, *, help: str = "", optional: bool = False, default: Any = NO_DEFAULT) -> Any:
    """A line of text, not empty."""
    return _field(FieldSpec(kind="text", label=label, help=help, optional=optional, default=default))


def texts(label: str, *, help: str = "", optional: bool = False, fewest: int = 1, most: int = MOST_ITEMS) -> Any:
    """A list of texts, none empty."""
    return _field(FieldSpec(kind="text", label=label, help=help, optional=optional, depth=1, fewest=fewest, most=most))


def flag(label: str, *, help: str = "", default: Any = NO_DEFAULT) -> Any:
    """True or false."""
    return _field(FieldSpec(kind="flag", label=label, help=help, default=default))


def day(label: str, *, help: str = "", optional: bool = False) -> Any:
    """A date, written 2024-05-31."""
    return _field(FieldSpec(kind="day", label=label, help=help, optional=optional))


def items(label: str, item_type: type, *, help: str = "", optional: bool = False, fewest: int = 1,
          most: int = 10_000) -> Any:  # fmt: skip
    """A list of nested dataclasses, each read from its own mapping."""
    return _field(FieldSpec(kind="items", label=label, help=help, optional=optional, depth=1, item_type=item_type,
                            fewest=fewest, most=most))  # fmt: skip


def result(label: str, *, unit: str = "", help: str = "", optional: bool = False) -> Any:
    """A field of a calculation's output. An optional one that is None is left out of the answer."""
    return _field(FieldSpec(kind="result", label=label, unit=unit, help=help, optional=optional))


@cache
def fields_of(record: type) -> tuple[FieldSpec, ...]:
    """The fields of an input or output dataclass, completed with name, unit and number type."""
    hints = typing.get_type_hints(record)
    specs = []
    for field in (field for field in dataclasses.fields(record) if field.init):
        spec = field.metadata.get("spec") or FieldSpec(kind="result", label=field.name.replace("_", " ").capitalize())
        suffix = field.name.rsplit("_", 1)[-1] if "_" in field.name else ""
        unit = spec.unit or UNITS_BY_SUFFIX.get(suffix, "")
        spec = dataclasses.replace(spec, name=field.name.rstrip("_"), attribute=field.name, unit=unit)
        specs.append(dataclasses.replace(spec, number_type=_number_type(hints[field.name])))
    return tuple(specs)


def _number_type(annotation: Any) -> type:
    for part in typing.get_args(annotation) or (annotation,):
        if isinstance(part, types.GenericAlias) or typing.get_args(part):
            return _number_type(part)
        if part in (Fraction, float, int):
            return typing.cast("type", part)
    return Fraction


class Reader:
    """Reads one mapping into an input dataclass, collecting every fault instead of stopping at the first."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []
        self.unit = ""
        self._unit_named_by = ""

    def read(self, record: type, given: object) -> Any:
        """The filled dataclass; raises InputFault with all faults found."""
        answer = self._record(record, given, "")
        if self.faults:
            raise InputFault(self.faults)
        return answer

    def spoken(self, field: str) -> str:
        """The field's name as the sender writes it: ``_mil`` when the call is in mil."""
        return field.replace("_um", "_mil") if self.unit == "mil" else field

    def _fault(self, field: str, message: str) -> None:
        self.faults.append(Fault(field or "input", message))

    def _record(self, record: type, given: object, path: str) -> Any:
        if not isinstance(given, Mapping):
            self._fault(path, "give an object with named fields")
            return None
        before = len(self.faults)
        specs = fields_of(record)
        self._refuse_unknown(specs, given, path)
        values = {}
        for spec in specs:
            name = self._find(spec, given, path)
            if name:
                values[spec.attribute] = self._value(spec, given[name], _join(path, name))
            elif isinstance(spec.default, Fraction):
                values[spec.attribute] = _typed(spec, spec.default)
        if len(self.faults) > before:
            return None
        try:
            return record(**values)
        except InputFault as wrong:
            for fault in wrong.faults:
                self._fault(_join(path, self.spoken(fault.field)), fault.message)
            return None

    def _refuse_unknown(self, specs: tuple[FieldSpec, ...], given: Mapping[Any, Any], path: str) -> None:
        known = [name for spec in specs for name in spec.names]
        for name in given:
            if name not in known:
                near = get_close_matches(str(name)[:100], known, n=1, cutoff=0.6)
                hint = f"did you mean {near[0]}?" if near else f"known here: {', '.join(s.name for s in specs)}"
                self._fault(_join(path, str(name)[:100]), f"unknown field; {hint}")

    def _find(self, spec: FieldSpec, given: Mapping[Any, Any], path: str) -> str:
        """The name under which the field was given, or nothing; null counts as not given."""
        present = [name for name in spec.names if given.get(name) is not None]
        if not present:
            if spec.required:
                self._fault(_join(path, self.spoken(spec.name)), f"is missing; give {_asked(spec)}")
            return ""
        if len(present) > 1:
            self._fault(_join(path, spec.mil_name), f"give {spec.name} or {spec.mil_name}, not both")
            return ""
        if spec.is_thickness:
            self._note_unit(present[0], path)
        return present[0]

    def _note_unit(self, name: str, path: str) -> None:
        unit = "mil" if name.endswith("_mil") else "µm"
        if not self.unit:
            self.unit, self._unit_named_by = unit, _join(path, name)
        elif self.unit != unit:
            message = f"is in another unit than {self._unit_named_by}; give all thicknesses of a calculation in one"
            self._fault(_join(path, name), message)

    def _value(self, spec: FieldSpec, value: object, path: str) -> Any:
        if spec.depth == 0:
            return self._one(spec, value, path)
        if spec.depth == 1:
            return self._list(spec, value, path)
        if not self._is_list(spec, value, path):
            return None
        plain = self._plain_lists(spec, typing.cast("list[Any]", value))
        if plain is not None:
            return plain
        inner = dataclasses.replace(spec, depth=1, fewest=1)
        return tuple(self._list(inner, part, f"{path}[{i}]") for i, part in enumerate(typing.cast("list[Any]", value)))

    def _list(self, spec: FieldSpec, value: object, path: str) -> tuple[Any, ...] | None:
        if spec.loose and isinstance(value, Number | str):
            return Bare((self._one(spec, value, path),))
        if not self._is_list(spec, value, path):
            return None
        parts = typing.cast("list[Any]", value)
        if self._may_be_plain(spec):
            plain = plain_numbers(spec, parts)
            if plain is not None:
                return plain
        return tuple(self._one(spec, part, path, i) for i, part in enumerate(parts))

    def _may_be_plain(self, spec: FieldSpec) -> bool:
        return spec.number_type is Fraction and spec.kind in ("thickness", "number") and self.unit != "mil"

    def _plain_lists(self, spec: FieldSpec, parts: list[Any]) -> tuple[tuple[Fraction, ...], ...] | None:
        """Lists of plain numbers, all read at once; None where something has to be looked at by itself."""
        if not self._may_be_plain(spec) or not all(
            isinstance(part, list | tuple) and 0 < len(part) <= spec.most for part in parts
        ):
            return None
        flat = plain_numbers(spec, [value for part in parts for value in part])
        if flat is None:
            return None
        numbers = iter(flat)
        return tuple(tuple(islice(numbers, len(part))) for part in parts)

    def _is_list(self, spec: FieldSpec, value: object, path: str) -> bool:
        if not isinstance(value, list | tuple):
            self._fault(path, "give a list of lists" if spec.depth == 2 else "give a list")
        elif len(value) < spec.fewest:
            self._fault(path, f"give at least {spec.fewest} of these" if value else "the list is empty")
        elif len(value) > spec.most:
            self._fault(path, f"give at most {spec.most} of these")
        else:
            return True
        return False

    def _one(self, spec: FieldSpec, value: object, path: str, index: int | None = None) -> Any:
        try:
            if spec.kind in ("thickness", "number"):
                return self._number(spec, value)
            if spec.kind == "items":
                return self._record(typing.cast("type", spec.item_type), value, f"{path}[{index}]")
            bounded = {"dated": self._dated, "timed": self._timed, "shares": self._shares}
            return {**_READ, **bounded}[spec.kind](spec, value)
        except ValueError as wrong:
            self._fault(path if index is None else f"{path}[{index}]", str(wrong))
            return None

    def _number(self, spec: FieldSpec, value: object) -> Fraction | float | int:
        amount = exact(value)
        if spec.is_thickness and self.unit == "mil":
            amount *= UM_PER_MIL
            keep_within(spec, amount, UM_PER_MIL, " mil")
        else:
            keep_within(spec, amount, Fraction(1), f" {spec.unit}" if spec.unit else "")
        return _typed(spec, amount)

    def _dated(self, spec: FieldSpec, value: object) -> tuple[date, Any]:
        if not isinstance(value, Mapping) or set(value) != {"date", "value"}:
            raise ValueError('give a date and a value: {"date": "2024-05-31", "value": 1.2}')
        return _read_day(spec, value["date"]), self._number(spec, value["value"])

    def _timed(self, spec: FieldSpec, value: object) -> tuple[datetime, Any]:
        if not isinstance(value, Mapping) or set(value) != {"at", "value"}:
            raise ValueError('give a moment and a value: {"at": "2026-05-31T08:30+02:00", "value": 14.5}')
        return moment_of(value["at"]), self._number(spec, value["value"])

    def _shares(self, spec: FieldSpec, value: object) -> dict[str, Any]:
        if not isinstance(value, Mapping) or not value:
            raise ValueError("give names with their numbers")
        read = {}
        for name, amount in value.items():
            try:
                read[str(name)[:MOST_CHARACTERS]] = self._number(spec, amount)
            except ValueError as wrong:
                raise ValueError(f"{str(name)[:100]}: {wrong}") from None
        return read


def _typed(spec: FieldSpec, amount: Fraction) -> Fraction | float | int:
    if spec.number_type is int:
        if amount.denominator != 1:
            raise ValueError("give a whole number")
        return amount.numerator
    return float(amount) if spec.number_type is float else amount


def _read_choice(spec: FieldSpec, value: object) -> str | int:
    for option in spec.options:
        if value == option and type(value) is type(option):
            return option
    raise ValueError(f"choose one of: {', '.join(str(option) for option in spec.options)}")


def _read_text(spec: FieldSpec, value: object) -> str:
    if not isinstance(value, str) or not value.strip():
        raise ValueError("give some text")
    if _UNWRITABLE.search(value):
        raise ValueError("give one line of text without control characters")
    if len(value) > MOST_CHARACTERS:
        raise ValueError(f"give at most {MOST_CHARACTERS} characters")
    return value


def _read_flag(spec: FieldSpec, value: object) -> bool:
    if not isinstance(value, bool):
        raise ValueError("give true or false")
    return value


def _read_day(spec: FieldSpec, value: object) -> date:
    try:
        read = value if type(value) is date else date.fromisoformat(value if isinstance(value, str) else "")
    except ValueError:
        raise ValueError("give a date written like 2024-05-31") from None
    if read.year < EARLIEST_YEAR:  # a slip of the keyboard, such as the year 0202
        raise ValueError(f"give a year from {EARLIEST_YEAR} on; this one is {read.year:04}")
    return read


_READ: dict[str, Callable[[FieldSpec, object], Any]] = {
    "choice": _read_choice,
    "text": _read_text,
    "flag": _read_flag,
    "day": _read_day,
}


def _join(path: str, name: str) -> str:
    return f"{path}.{name}" if path else name


def _asked(spec: FieldSpec) -> str:
    what = f"“{spec.label}”"
    if spec.options:
        return f"{what}: one of {', '.join(str(option) for option in spec.options)}"
    return f"{what} in {spec.unit}" if spec.unit else what
