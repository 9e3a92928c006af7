"""docs/explanation/security.md names tests that are there, and a row without one does not call itself met."""

from __future__ import annotations

import ast
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PAGE = (ROOT / "docs" / "explanation" / "security.md").read_text()
STATES = {"met", "not yet", "does not apply"}
ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")] for line in PAGE.splitlines() if re.match(r"\| V\d+", line)
]


def names_in(file: Path) -> set[str]:
    return {node.name for node in ast.walk(ast.parse(file.read_text())) if isinstance(node, ast.FunctionDef)}


def test_every_test_it_names_is_there() -> None:
    gone = []
    for named in re.findall(r"`(tests/[^`]+)`", PAGE):
        file, _, test = named.partition("::")
        there = (ROOT / file).is_file() and (test in names_in(ROOT / file))
        if not there:
            gone.append(named)
    assert not gone, f"security.md names what is not there: {', '.join(gone)}"


def test_a_row_is_met_by_a_test_or_says_that_it_is_not() -> None:
    for row in ROWS:
        assert len(row) == 4, row
        assert row[2] in STATES, row
        assert ("`tests/" in row[3]) is (row[2] == "met"), row


def test_every_chapter_of_the_standard_has_a_row() -> None:
    chapters = {int(number) for row in ROWS for number in re.findall(r"V(\d+)", row[0])}
    assert chapters == set(range(1, 18))


def test_the_inventory_names_every_key() -> None:
    """Every setting that may come as a secret file, and every file of keys."""
    operations = (ROOT / "docs" / "operations.md").read_text()
    secrets = re.findall(r"^\| `(\w+)` \(\*file\*\)", operations, flags=re.MULTILINE)
    files = set(re.findall(r'_folder\(\) / "([^"]+)"', (ROOT / "accounts" / "keys.py").read_text()))
    assert {"SECRET_KEY", "DATABASE_URL"} <= set(secrets)
    assert len(files) == 2
    inventory = (ROOT / "docs" / "explanation" / "keys.md").read_text()
    assert [name for name in (*secrets, *files) if name not in inventory] == []
