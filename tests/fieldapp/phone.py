"""The app's pure modules run by Node, as the phone runs them."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from tests.services import ROOT

FIELD = ROOT / "static" / "field"


def modules(folder: Path) -> Path:
    """The app's modules in the folder, with the word by which Node takes a `.js` for a module."""
    shutil.copytree(FIELD, folder, dirs_exist_ok=True, ignore=shutil.ignore_patterns("*.png", "*.svg"))
    (folder / "package.json").write_text('{"type": "module"}', encoding="utf-8")
    return folder


def by_node(folder: Path, script: Path, questions: Iterable[dict[str, Any]]) -> list[Any]:
    """What the script answers to each question, by one process; the modules lie beside it, as modules for Node too."""
    node = shutil.which("node")
    assert node, "Node is not installed; as root: apt-get install nodejs"
    shutil.copy(script, modules(folder))
    lines = "\n".join(json.dumps(question, default=str) for question in questions)
    ran = subprocess.run(
        [node, str(folder / script.name)], input=lines, capture_output=True, text=True, timeout=60, check=False
    )
    assert ran.returncode == 0, ran.stderr
    return [json.loads(line) for line in ran.stdout.splitlines()]
