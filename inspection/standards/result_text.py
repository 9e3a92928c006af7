"""A result as text: the verdict, every check with its limit and what was observed, and what it rests on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from inspection.standards.fields import UNITS_BY_SUFFIX
from inspection.standards.registry import Calculation, get
from inspection.standards.units import excluded, shown, told_apart

_TOLD_ELSEWHERE = {"verdict", "rule", "edition", "checks", "notes", "sources", "caution"}
_LONG = 12
_RESULTS = {True: "pass", False: "FAIL", None: "open"}
"""Open: the sample is not complete, and nothing of it breaks the limit for good."""


def as_text(name: str, result: Mapping[str, Any]) -> str:
    """The whole explanation of one result of :func:`calculate`; indexes are counted from 1 for the reader."""
    calculation = get(name)
    lines = [calculation.title]
    if "verdict" in result:
        lines += [f"Verdict: {result['verdict']}", f"Rule: {_rule(result)}"]
    lines += [f"{label}: {value}" for label, value in _values(calculation, result)]
    if result.get("checks"):
        lines += ["", "Checks, in order:"]
        lines += [_check(number, check) for number, check in enumerate(result["checks"], start=1)]
    if result.get("notes"):
        lines += ["", "Notes:", *(f"- {note}" for note in result["notes"])]
    lines += ["", "Rests on:", *(f"- {source}" for source in calculation.sources)]
    if calculation.caution:
        lines += ["", f"Caution: {calculation.caution}"]
    return "\n".join(lines) + "\n"


def _rule(result: Mapping[str, Any]) -> str:
    return ", ".join(str(result[key]) for key in ("rule", "edition") if result.get(key))


def _values(calculation: Calculation, result: Mapping[str, Any]) -> Iterable[tuple[str, str]]:
    for spec in calculation.outputs:
        for key in spec.names:
            if key in result and key not in _TOLD_ELSEWHERE:
                unit = "mil" if key != spec.name else spec.unit
                yield spec.label, _value(_from_one(key, result[key]), unit)


def _value(value: Any, unit: str = "") -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping):
        return "; ".join(_named(key, part) for key, part in value.items() if part not in ("", []))
    if isinstance(value, list):
        if value and isinstance(value[0], Mapping | list):
            return "".join(f"\n  {index}. {_value(part, unit)}" for index, part in enumerate(value, start=1))
        told = ", ".join(_value(part) for part in value[:_LONG]) or "none"
        more = f" and {len(value) - _LONG} more" if len(value) > _LONG else ""
        return told + more + (f" {unit}" if unit and value else "")
    return f"{shown(value)} {unit}".rstrip()


def _named(key: str, value: Any) -> str:
    words = key.split("_")
    unit = UNITS_BY_SUFFIX.get(words[-1], "") if len(words) > 1 else ""
    kept = words[:-1] if unit or words[-1] in ("index", "indices") else words
    return f"{' '.join(kept)} {_value(_from_one(key, value), unit)}"


def _from_one(key: str, value: Any) -> Any:
    """Indexes count from 0 in the answer and from 1 for the reader."""
    if key.endswith("_index"):
        return value + 1
    return [index + 1 for index in value] if key.endswith("_indices") else value


def _check(number: int, check: Mapping[str, Any]) -> str:
    where = f"{check['where']}: " if check.get("where") else ""
    parts = [f"{number}. [{_RESULTS[check['passed']]}] {where}{check['sentence']}"]
    unit = check["unit"]
    limit, observed = told_apart(check["limit"], check["observed"])
    told = [f"{word} {figure} {unit}".rstrip() for word, figure in (("limit", limit), ("observed", observed))
            if check[word] is not None]  # fmt: skip
    if told:
        parts.append("; ".join(told) + excluded(check))
    if check["decided_by"]:
        indexes = [index + 1 for index in check["decided_by"]]
        parts.append(f"decided by {check['counted_in']} {_value(indexes)}")
    return "\n   ".join(parts) + f" ({check['clause']})"
