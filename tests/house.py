"""``python -m tests.house``: draw the rooms and their imports into docs/explanation/house.md, as they are.

An arrow from one room to another says that a module of the first imports one of the second; settings and addresses name
theirs in strings. An arrow that follows from others is left out: whoever uses a room may use what that one uses.
"""

from __future__ import annotations

import ast
import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "explanation" / "house.md"
BEGIN, END = "<!-- drawn by python -m tests.house -->\n", "<!-- end of the drawing -->\n"

_CONTRACTS = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]["contracts"]
_HOUSE, _REPORTS = (
    [line.split(" | ") for line in reversed(contract["layers"])]
    for contract in _CONTRACTS
    if contract["type"] == "layers"
)
HEIGHTS = {room: height for height, floor in enumerate(_HOUSE) for room in floor}
"""Every room with the floor it lies on, counted from the lowest."""
PARTS = [f"reports.{part}" for floor in _REPORTS for part in floor]


def rooms() -> list[str]:
    """From the lowest upwards; of the reports each part, and above them what is common to them."""
    return [part for room in HEIGHTS for part in ([*PARTS, room] if room == "reports" else [room])]


def arrows() -> dict[str, set[str]]:
    """For each room the others that its modules import."""
    known = rooms()
    return {
        room: {
            other
            for path in (ROOT / room.replace(".", "/")).rglob("*.py")
            if "migrations" not in path.parts and _room_of(_name(path), known) == room
            for name in _imported(path)
            if (other := _room_of(name, known)) and other != room
        }
        for room in known
    }


def _imported(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and path.parent.name == "config":
            found.add(node.value)
    return found


def _name(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts)


def _room_of(name: str, known: list[str]) -> str:
    return max((room for room in known if f"{name}.".startswith(f"{room}.")), key=len, default="")


def told(found: dict[str, set[str]]) -> dict[str, set[str]]:
    """The arrows without those that follow from others."""
    below = {room: _all_below(room, found) for room in found}
    return {
        room: {other for other in others if not any(other in below[between] for between in others)}
        for room, others in found.items()
    }


def _all_below(room: str, found: dict[str, set[str]]) -> set[str]:
    return found[room] | {lower for other in found[room] for lower in _all_below(other, found)}


def drawing() -> str:
    """The drawing as Mermaid."""
    shown = told(arrows())
    lines = [f'  {_key(room)}["{room}"]' for room in reversed(rooms())]
    lines += [f"  {_key(room)} --> {_key(other)}" for room in reversed(rooms()) for other in sorted(shown[room])]
    return "```mermaid\nflowchart TD\n" + "\n".join(lines) + "\n```\n"


def _key(room: str) -> str:
    return room.replace(".", "_")


def page_with(drawn: str, page: str) -> str:
    return re.sub(f"{BEGIN}.*?{END}", f"{BEGIN}{drawn}{END}", page, flags=re.DOTALL)


if __name__ == "__main__":
    PAGE.write_text(page_with(drawing(), PAGE.read_text(encoding="utf-8")), encoding="utf-8")
