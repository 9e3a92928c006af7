"""``python -m tests.alone``: import each module of ours as the first of ours in its process, but for the tables.

A module from which no chain of imports leads into a circle is imported alike whatever came before it; those are
imported one after another. Each that stands in a circle is imported in a fork that has seen no other circle but the
models'. What cannot be imported so is printed, a line each.
"""

from __future__ import annotations

import ast
import gc
import importlib
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
ROOMS = ("config", "accounts", "inspection", "reports")


def modules() -> dict[str, Path]:
    """Every module of the product by its name, without what makemigrations wrote."""
    return {
        ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
        for room in ROOMS
        for path in sorted((ROOT / room).rglob("*.py"))
        if "migrations" not in path.parts and path.stem != "__main__"
    }


def imported_by(path: Path, known: dict[str, Path]) -> set[str]:
    """What the module imports when it is itself imported: ours, with the packages above it; others by their names."""
    found: set[str] = set()
    for node in _run_on_import(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names = {f"{node.module}.{alias.name}" for alias in node.names}
            found |= {node.module, *(names & set(known))}
    return found | {above for name in found & set(known) for above in _above(name)}


def _run_on_import(node: ast.AST) -> Iterator[ast.AST]:
    for child in ast.iter_child_nodes(node):
        for_types_only = isinstance(child, ast.If) and "TYPE_CHECKING" in ast.dump(child.test)
        if not isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda) and not for_types_only:
            yield child
            yield from _run_on_import(child)


def _above(name: str) -> list[str]:
    parts = name.split(".")
    return [".".join(parts[:end]) for end in range(1, len(parts))]


def reached(arrows: dict[str, set[str]]) -> dict[str, set[str]]:
    """For each module all that its import leads to, itself among them where it is in a circle."""
    found: dict[str, set[str]] = {}
    for start in arrows:
        seen: set[str] = set()
        waiting = [start]
        while waiting:
            new = arrows[waiting.pop()] - seen
            seen |= new
            waiting += new
        found[start] = seen
    return found


def without_listeners() -> None:
    """Set Django up with the tables and nothing else: what `ready` would import is not there yet."""
    import django
    from django.apps import AppConfig

    create = AppConfig.create

    def quiet(entry: str) -> Any:
        made = create(entry)
        if entry.startswith(ROOMS):
            made.ready = lambda: None
        return made

    AppConfig.create = staticmethod(quiet)
    django.setup()


def fault_of(name: str) -> str:
    try:
        importlib.import_module(name)
    except Exception as fault:
        return f"{name}: {type(fault).__name__}: {fault}"
    return ""


def alone(name: str) -> None:
    """Import in a fork, which says what went wrong."""
    child = os.fork()
    if not child:
        fault = fault_of(name)
        if fault:
            print(fault, flush=True)
        os._exit(0)
    os.waitpid(child, 0)


def main() -> None:
    known = modules()
    arrows = {name: imported_by(path, known) for name, path in known.items()}
    ours = {name: (found & set(known)) | set(_above(name)) for name, found in arrows.items()}
    leads_to = reached(ours)
    circles = {name for name, found in leads_to.items() if name in found}
    without_listeners()
    for other in sorted(set().union(*arrows.values()) - set(known)):
        fault_of(other)
    apart = [name for name in sorted(known) if name not in circles and not leads_to[name] & circles]
    faults = [fault_of(name) for name in apart]
    gc.freeze()
    for name in sorted(circles - set(sys.modules)):
        alone(name)
    faults += [fault_of(name) for name in sorted(set(known) - set(apart))]
    print(*filter(None, faults), sep="\n", end="\n" if any(faults) else "", flush=True)


if __name__ == "__main__":
    main()
