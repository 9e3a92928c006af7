"""`make bench`: every ratio in one table; with --write also as docs/bench.md."""

from __future__ import annotations

import importlib
import os
import platform
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import django
from django.core.management import call_command

from tests import services
from tests.bench import Row, met

HERE = Path(__file__).parent
PAGE = services.ROOT / "docs" / "bench.md"
HEAD = """# Speed

Each row times the platform's own way and a bare way to the same end, in one run on one machine, so that the ratio means
the same on another. `make bench` prints this table; `python -m tests.bench --write` writes it here.
"""


def measure(names: list[str]) -> Iterator[Row]:
    asked = [path.stem for path in sorted(HERE.glob("bench_*.py")) if not names or path.stem[6:] in names]
    benches = [importlib.import_module(f"tests.bench.{name}") for name in asked]
    # As a process of the site is: all loaded, and no rubbish looked for in what stays.
    importlib.import_module("config.wsgi")
    for bench in benches:
        yield from bench.run()


def table(rows: list[Row]) -> str:
    lines = [("what", "ratio", "aim", "met")]
    for row in rows:
        name, ratio, aim = row
        lines.append((name, f"{ratio:.2f}", aim or "–", ("yes" if met(row) else "NO") if aim else "–"))
    widths = [max(len(cells[column]) for cells in lines) for column in range(4)]
    lines.insert(1, tuple("-" * width for width in widths))
    return "\n".join(
        f"| {' | '.join(cell.ljust(width) for cell, width in zip(cells, widths, strict=True))} |" for cells in lines
    )


def main(arguments: list[str]) -> int:
    names = [argument for argument in arguments if argument != "--write"]
    try:
        with services.postgresql() as url:
            os.environ |= {"DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "tests.settings", "LOG_LEVEL": "ERROR"}
            for ours in ("VAR_DIR", "REDIS_URL"):
                os.environ.pop(ours, None)
            django.setup()
            call_command("migrate", verbosity=0)
            rows = list(measure(names))
    except services.NotFound as missing:
        print(f"{missing} is not on this machine; install Debian's package postgresql.")
        return 1
    text = table(rows)
    print(text)
    if "--write" in arguments:
        when = f"Measured on {datetime.now(UTC):%Y-%m-%d}: {os.cpu_count()} cores, {platform.machine()}, "
        PAGE.write_text(f"{HEAD}\n{when}Python {platform.python_version()}, PostgreSQL.\n\n{text}\n", encoding="utf-8")
        print(f"Written to {PAGE.relative_to(services.ROOT)}.")
    return 0 if all(map(met, rows)) else 1


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
