"""A field of the API's serializers, told so that the field app can draw it, check it and send it back."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from django import forms
from rest_framework import fields as drf
from rest_framework import serializers

from inspection.fieldwork.asked import Asked, RowsField
from inspection.fieldwork.serializers import ThicknessSentField
from inspection.fieldwork.tested_serializers import NumberSent
from inspection.foundation.form_fields import LinesField
from inspection.instruments.serializers import Figure, GaugeReading

Told = dict[str, Any]
# What the app fills in by itself or asks in another way; `confirmed` is sent again once the question was answered.
OF_THE_APP = frozenset({"id", "project", "confirmed", "replaces", "replacement_reason"})
# What an id names, where the field is not called so.
NAMED = {
    "base_metal_gauge": "gauge", "profile_record": "profile", "asked": "party", "standards": "standard",
    "areas": "area", "points": "point", "lines": "line", "parties": "party", "coats": "coat", "parents": "lot",
    "to": "person",
}  # fmt: skip
# Endings of names that are units; the longest first.
UNITS = {
    "kv_per_mm": "kV/mm", "mg_m2": "mg/m²", "us_cm": "µS/cm", "m_per_s": "m/s", "per_m2": "a m²", "m_s": "m/s",
    "mpa": "MPa", "psi": "psi", "pct": "%", "hpa": "hPa", "bar": "bar", "mil": "mil", "um": "µm", "mm": "mm",
    "cm2": "cm²", "cm": "cm", "m2": "m²", "ml": "ml", "lx": "lx", "kv": "kV", "h": "h", "s": "s", "c": "°C",
    "v": "V", "l": "L",
}  # fmt: skip
# The units a thickness is taken in, each with the other.
LENGTHS = {"um": "mil", "mil": "um"}
# Names that are nothing but a unit, or need a word of their own.
CALLED = {"um": "Reading, µm", "m2": "Surface, m²", "strength_psi": "Or strength, psi", "seen": "What was seen"}
ONE_OF = {"places": "place", "mixes": "mix", "parts": "part"}
# A text longer than this has room for more than a line; the short texts of the house end here.
LONGEST_LINE = 200
# Lists, objects and numbers of the platform by what the app draws for them.
NUMBERS = (drf.DecimalField, drf.FloatField, ThicknessSentField, GaugeReading, Figure, NumberSent)


def told_fields(serializer: serializers.Serializer, form: Mapping[str, forms.Field] | None = None) -> list[Told]:
    """What the app asks for a body that the serializer takes, labelled as the form of the pages does.

    Where a figure is taken in either of two units, each of the two says its own, and the app asks one of them.
    """
    known, found = form or {}, []
    for name, field in serializer.fields.items():
        if field.read_only or name in OF_THE_APP:
            continue
        told = _told(name, field, known.get(name), required=_required(field))
        bare, _, unit = name.rpartition("_")
        if unit in LENGTHS and f"{bare}_{LENGTHS[unit]}" in serializer.fields:
            told |= {"unit": unit, "help": ""}
        found.append(told)
    return found


def _told(name: str, field: drf.Field, shown: forms.Field | None, *, required: bool) -> Told:
    unit = unit_of(name)
    label = str(shown.label) if shown is not None and shown.label else _words(name, unit)
    lines = isinstance(shown, LinesField | RowsField)
    told: Told = {"name": name, "label": label, "help": _help(field, None if lines else shown, label)}
    if lines:
        told["label"] = re.split(r",[^,]*\ba line\b", label)[0]
        told["help"] = _of_boxes(told["help"])
    if required:
        told["required"] = True
    if field.allow_null:
        told["null"] = True
    told |= _shape(name, field, shown)
    default = _plain(field.default)
    if default not in (None, "", [], False):
        told["default"] = default
    return told


def unit_of(name: str) -> str:
    """The unit that the end of a name tells; empty where it tells none."""
    return next((unit for end, unit in UNITS.items() if name.endswith(f"_{end}") or name == end), "")


def _words(name: str, unit: str) -> str:
    """A label where the pages have none: the name in words, with its unit."""
    if name in CALLED:
        return CALLED[name]
    end = next((end for end in UNITS if unit and (name.endswith(f"_{end}") or name == end)), "")
    bare = name.removesuffix(end).rstrip("_").replace("_", " ").removesuffix(" at")
    words = bare[0].upper() + bare[1:]
    return f"{words}, {unit}" if unit else words


def _help(field: drf.Field, shown: forms.Field | None, label: str) -> str:
    """The form's own help, else that of the API without the label that a declared question puts before it."""
    if shown is not None and shown.help_text:
        return str(shown.help_text)
    text = str(field.help_text or "").replace("Null: ", "Empty: ").replace("null: ", "empty: ")
    if not text or label.startswith(text) or text.startswith("Instead of"):
        return ""
    bare = next((part for part in (label, label.rpartition(", ")[0]) if part and text.startswith(f"{part}. ")), "")
    return text[len(bare) + 2 :] if bare else text


def _of_boxes(text: str) -> str:
    """Of the help of a text with a row on each line what holds for rows of boxes too: not how a line is written."""
    return ". ".join(part for part in text.split(". ") if ": " not in part and "colon" not in part)


def _required(field: drf.Field) -> bool:
    return bool(field.required and not getattr(field, "allow_blank", False) and not field.allow_null)


def _shape(name: str, field: drf.Field, shown: forms.Field | None) -> Told:
    """What kind of thing is asked, and its bounds."""
    if isinstance(field, serializers.ListSerializer):
        return _rows(name, field.child, shown) | _length(field)
    for known, shape in SHAPES:
        if isinstance(field, known):
            return shape(name, field, shown)
    raise TypeError(f"the field app cannot draw {type(field).__name__} of {name}; say how in SHAPES")


def _id(name: str, field: drf.Field, shown: Any) -> Told:
    return {"type": "id", "of": NAMED.get(name, name)}


def _choice(name: str, field: drf.Field, shown: Any) -> Told:
    labels: dict[Any, Any] = dict(getattr(shown, "choices", ())) if isinstance(shown, forms.ChoiceField) else {}
    choices: Mapping[Any, Any] = field.choices  # type: ignore[attr-defined]  # of a ChoiceField
    return {"type": "choice", "choices": [[code, str(labels.get(code, words))] for code, words in choices.items()]}


def _number(name: str, field: drf.Field, shown: Any) -> Told:
    told: Told = {"type": "number", **_bounds(field)}
    if isinstance(field, drf.DecimalField):
        told["places"] = field.decimal_places
    if isinstance(field, ThicknessSentField):
        told["min"] = 0
    return told


def _integer(name: str, field: drf.Field, shown: Any) -> Told:
    return {"type": "integer", **_bounds(field)}


def _text(name: str, field: drf.Field, shown: Any) -> Told:
    longest = getattr(field, "max_length", None)
    lines = longest is None or longest > LONGEST_LINE
    return {"type": "lines" if lines else "text", **({"longest": longest} if longest else {})}


def _list(name: str, field: drf.Field, shown: forms.Field | None) -> Told:
    child = field.child  # type: ignore[attr-defined]  # of a ListField
    if isinstance(child, serializers.Serializer):
        return _rows(name, child, shown) | _length(field)
    if isinstance(child, drf.UUIDField):
        return {"type": "ids", "of": NAMED.get(name, name.removesuffix("s"))} | _length(field)
    if isinstance(child, drf.ChoiceField):
        return _choice(name, child, None) | {"type": "choices"} | _length(field)
    whole = isinstance(child, drf.IntegerField)
    return {"type": "readings", **({"whole": True} if whole else {}), **_bounds(child)} | _length(field)


def _rows(name: str, child: Any, shown: forms.Field | None) -> Told:
    """Each row with its own fields; the cells of a declared question say their labels themselves."""
    cells: dict[str, Asked] = {}
    if isinstance(shown, RowsField):
        cells = {cell.name: cell for cell in shown.rows.cells}
    named = {name: cell.in_form() for name, cell in cells.items()}
    told: Told = {"type": "rows", "fields": told_fields(child, named)}
    # What one is called: by its declaration, else by the first words of its serializer, such as “One dolly.”
    called = re.match(r"One (\w+)", type(child).__doc__ or "")
    one = shown.rows.one if isinstance(shown, RowsField) else called[1] if called else ONE_OF.get(name, "")
    return told | ({"one": one} if one else {})


def _map(name: str, field: drf.Field, shown: Any) -> Told:
    return {"type": "map"}


def _bounds(field: drf.Field) -> Told:
    least, most = getattr(field, "min_value", None), getattr(field, "max_value", None)
    return {
        **({"min": _plain(least)} if least is not None else {}),
        **({"max": _plain(most)} if most is not None else {}),
    }


def _length(field: drf.Field) -> Told:
    least, most = getattr(field, "min_length", None), getattr(field, "max_length", None)
    return {**({"at_least": least} if least else {}), **({"at_most": most} if most else {})}


def _plain(value: Any) -> Any:
    """A default or bound as JSON writes it; none where the field has none or makes it itself."""
    if value is drf.empty or callable(value):
        return None
    if isinstance(value, Decimal):
        return int(value) if value == value.to_integral_value() else float(value)
    return value.isoformat() if isinstance(value, datetime | date | time) else value


def _kind(word: str) -> Callable[[str, drf.Field, Any], Told]:
    return lambda name, field, shown: {"type": word}


# The first that fits counts, so that what is derived stands before what it derives from.
SHAPES: tuple[tuple[Any, Callable[[str, drf.Field, Any], Told]], ...] = (
    ((drf.UUIDField, serializers.PrimaryKeyRelatedField), _id),
    (drf.ChoiceField, _choice),
    (drf.BooleanField, _kind("flag")),
    (drf.IntegerField, _integer),
    (NUMBERS, _number),
    (drf.DateTimeField, _kind("moment")),
    (drf.DateField, _kind("day")),
    (drf.TimeField, _kind("clock")),
    (drf.DictField, _map),
    (drf.ListField, _list),
    (drf.CharField, _text),
)
