"""Readings as the API takes them, read in one pass: thousands of rows, each fault named by its place."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.utils.dateparse import parse_datetime

from inspection.fieldwork.actions.thickness import MOST_FAULTS, MOST_READINGS
from inspection.fieldwork.judging import ReadingSent
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.units import Unit, to_nm

KNOWN = frozenset({"spot", "reading", "value_um", "value_mil", "taken_at", "void_reason"})
# What the action calls a part of a reading, and what the sender calls it.
SENT_NAMES = {"spot": "spot", "reading": "reading", "time": "taken_at", "void_reason": "void_reason"}


def readings_sent(rows: Any) -> tuple[list[ReadingSent], Unit]:
    """The readings of a request and the one unit they are in. Raises Refused naming `readings[i].field`."""
    if not isinstance(rows, list) or not rows:
        raise Refused("Give a list of at least one reading.", field="readings")
    if len(rows) > MOST_READINGS:
        raise Refused(f"A record holds at most {MOST_READINGS} readings; these are {len(rows)}.", field="readings")
    unit = Unit.MIL if isinstance(rows[0], dict) and "value_mil" in rows[0] else Unit.UM
    faults: list[Fault] = []
    counts: dict[int, int] = {}
    found = []
    value_name = f"value_{unit}"
    for place, row in enumerate(rows):
        reading = _plain(row, value_name, unit.nm, counts) or _reading(row, value_name, unit, counts, place, faults)
        if reading:
            found.append(reading)
        elif len(faults) >= MOST_FAULTS:
            break
    if faults:
        raise Refused(faults)
    return found, unit


def _plain(row: Any, name: str, in_nm: int, counts: dict[int, int]) -> ReadingSent | None:
    """A reading with nothing but its place and a bare value, of which a 10,000-row upload consists; None for others."""
    if type(row) is not dict or len(row) != 2 + ("reading" in row):
        return None
    spot, value, order = row.get("spot"), row.get(name), row.get("reading")
    if type(spot) is not int or (type(value) is not float and type(value) is not int) or not 0 <= value < 1e9:
        return None
    nm = round(value * in_nm)
    if nm / in_nm != value or (order is not None and type(order) is not int):
        return None
    counts[spot] = order = order if order is not None else counts.get(spot, 0) + 1
    return ReadingSent(spot, order, nm)


def _reading(
    row: Any, name: str, unit: Unit, counts: dict[int, int], place: int, faults: list[Fault]
) -> ReadingSent | None:
    if type(row) is not dict or not row.keys() <= KNOWN:
        faults.append(_misshapen(row, place))
        return None
    return _checked(row, name, unit, counts, place, faults)


def _checked(
    row: Mapping[str, Any], name: str, unit: Unit, counts: dict[int, int], place: int, faults: list[Fault]
) -> ReadingSent | None:
    """A reading with more than a bare value, or with something wrong."""
    before = len(faults)

    def wrong(field: str, message: str) -> None:
        faults.append(Fault(message, f"readings[{place}].{field}"))

    spot, order, void = row.get("spot"), row.get("reading"), row.get("void_reason") or ""
    if type(spot) is not int:
        wrong("spot", "Give a whole number from 1.")
    if order is not None and type(order) is not int:
        wrong("reading", "Give a whole number from 1, or leave it out.")
    other = "value_um" if name == "value_mil" else "value_mil"
    if other in row:
        wrong(other, f"Give all readings of a record in one unit; the first is in {name}.")
    nm = _thickness(row.get(name), unit, f"readings[{place}].{name}", faults) if other not in row else 0
    if not isinstance(void, str):
        wrong("void_reason", "Give text.")
    at = _moment(row.get("taken_at"), f"readings[{place}].taken_at", faults)
    if len(faults) > before or not isinstance(spot, int):
        return None
    counts[spot] = order if order is not None else counts.get(spot, 0) + 1
    return ReadingSent(spot, counts[spot], nm, at, void)


def _misshapen(row: Any, place: int) -> Fault:
    if not isinstance(row, dict):
        return Fault("Give an object such as {“spot”: 1, “value_um”: 84.5}.", f"readings[{place}]")
    unknown = next(name for name in row if name not in KNOWN)
    told = f"There is no such field; a reading takes {', '.join(sorted(KNOWN))}."
    return Fault(told, f"readings[{place}].{str(unknown)[:40]}")


def _thickness(value: Any, unit: Unit, field: str, faults: list[Fault]) -> int:
    if value is None:
        faults.append(Fault(f"is missing; give the reading in {unit.label}.", field))
    elif isinstance(value, bool) or not isinstance(value, int | float):
        faults.append(Fault("Give a JSON number, such as 84.5, without quotation marks.", field))
    else:
        try:
            return to_nm(value, unit, field=field)
        except Refused as refused:
            faults.extend(refused.faults)
    return 0


def _moment(value: Any, field: str, faults: list[Fault]) -> datetime | None:
    if value is None:
        return None
    try:
        at = parse_datetime(value) if isinstance(value, str) else None
    except ValueError:
        at = None
    if at is None or at.tzinfo is None:
        faults.append(Fault("Give a moment with its time zone, such as 2026-03-04T14:05:00+01:00.", field))
        return None
    return at


def in_senders_words(refusal: Refused, unit: Unit) -> list[Fault]:
    """What the action said of row 3, as the sender counts and names it: `readings[2].value_um`."""
    faults = []
    for fault in refusal.faults:
        if fault.row is not None:
            name = SENT_NAMES.get(fault.field, f"value_{unit}")
            faults.append(Fault(fault.message, f"readings[{fault.row - 1}].{name}"))
        elif fault.field == "correction":
            faults.append(Fault(fault.message, f"correction_{unit}"))
        else:
            faults.append(fault)
    return faults
