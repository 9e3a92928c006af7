"""The phone's rules run by Node beside the core: generated cases go in, whatever is answered otherwise comes out."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Iterable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

from tests.services import ROOT

RULES = ROOT / "static" / "field" / "rules"
COMPARE = ROOT / "tests" / "field" / "compare.mjs"
LINES_AT_ONCE = 200


class Case(NamedTuple):
    """What the phone is asked, with its arguments, and what the core answered."""

    ask: str
    given: list[Any]
    want: Any
    # How far apart figures may lie that rest on exp and log, as a share; and that a margin is nearer to its limit than
    # those tell, so that its verdict is not compared.
    within: float = 0
    near: bool = False
    # How many cases it holds, areas or points judged beside each other; whether the rule's result alone is compared.
    many: int = 1
    part: bool = False


def modules(folder: Path) -> Path:
    """The rules as a browser takes them, beside the word by which Node takes a `.js` for a module too."""
    shutil.copytree(RULES, folder / "rules")
    (folder / "package.json").write_text('{"type": "module"}', encoding="utf-8")
    return folder / "rules"


def answered(rules: Path, cases: Iterable[Case]) -> str:
    """What one process of Node says of all cases: how many, and the first that it answers otherwise."""
    node = shutil.which("node")
    assert node, "Node is not installed; as root: apt-get install nodejs"
    command = [node, str(COMPARE), str(rules / "index.js")]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdin
        assert process.stdout
        for lines in _lines(cases):
            process.stdin.write(lines)
        process.stdin.close()
        return process.stdout.read()


def _lines(cases: Iterable[Case]) -> Iterator[str]:
    waiting, encode = [], json.JSONEncoder(default=_fraction).encode
    for case in cases:
        waiting.append(encode(case))
        if len(waiting) == LINES_AT_ONCE:
            yield "\n".join(waiting) + "\n"
            waiting = []
    yield "\n".join(waiting)


def refused(faults: Iterable[Any]) -> dict[str, Any]:
    """The answer where a rule refuses what it is given, with every fault."""
    return {
        "refused": [
            {"message": fault.message, "field": fault.field, "row": getattr(fault, "row", None)} for fault in faults
        ]
    }


def _fraction(value: object) -> list[int]:
    assert isinstance(value, Fraction), value
    return [value.numerator, value.denominator]
