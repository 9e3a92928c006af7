"""``python -m inspection.standards list`` and ``python -m inspection.standards NAME '{"field": value}'``."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from inspection.standards.registry import (
    Calculation,
    InputFault,
    UnknownCalculation,
    all_calculations,
    calculate,
    get,
)
from inspection.standards.result_text import as_text


def main(arguments: Sequence[str] | None = None) -> int:
    """Print one JSON object (or text); return 0, or 2 with one line per fault on standard error."""
    parser = argparse.ArgumentParser(
        prog="python -m inspection.standards", description="Run one calculation of the standards core."
    )
    parser.add_argument("name", help='a calculation, or "list"')
    parser.add_argument("input", nargs="?", help="one JSON object; without it, standard input is read")
    parser.add_argument("--text", action="store_true", help="print the explanation as text instead of JSON")
    parser.add_argument("--fields", action="store_true", help="print the fields the calculation takes, and its sources")
    asked = parser.parse_intermixed_args(arguments)
    if asked.name == "list":
        sys.stdout.write("".join(f"{known.name:24} {known.title}\n" for known in all_calculations()))
        return 0
    try:
        if asked.fields:
            sys.stdout.write(_fields(get(asked.name)))
            return 0
        get(asked.name)
        given = _parsed(sys.stdin.read() if asked.input is None else asked.input)
        result = calculate(asked.name, given)
    except (InputFault, UnknownCalculation) as wrong:
        sys.stderr.write(f"{wrong}\n")
        return 2
    sys.stdout.write(as_text(asked.name, result) if asked.text else json.dumps(result, ensure_ascii=False) + "\n")
    return 0


def _parsed(source: str) -> Any:
    try:
        return json.loads(source, parse_float=Decimal, object_pairs_hook=_without_repeats)
    except RecursionError:
        raise InputFault.at("input", "is nested too deeply") from None
    except InputFault:
        raise
    except ValueError as wrong:
        raise InputFault.at("input", f"is not JSON: {wrong}") from None


def _without_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    read = dict(pairs)
    if len(read) < len(pairs):
        names = [name for name, _ in pairs]
        repeated = next(name for name in names if names.count(name) > 1)
        raise InputFault.at(repeated, "is given twice")
    return read


def _fields(calculation: Calculation) -> str:
    lines = [f"{calculation.name}: {calculation.title}", calculation.summary, ""]
    for spec in calculation.inputs:
        need = "required" if spec.required else "optional"
        lines.append(f"  {' or '.join(spec.names):44} {need:9} {spec.label}{f' ({spec.unit})' if spec.unit else ''}")
    lines += ["", *(f"  {source}" for source in calculation.sources)]
    example = json.dumps(dict(calculation.example), ensure_ascii=False)
    return "\n".join([*lines, "", f"  for example: {example}"]) + "\n"


if __name__ == "__main__":
    sys.exit(main())
