"""Thickness by thumb: what keys make of a measurement, run by Node from the very files that the phone loads."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from tests.fieldapp.phone import modules

HERE = Path(__file__).parent
TOLD = ("thumb.mjs", "thumb_check.mjs")


@pytest.mark.once
def test_keys_make_readings_as_the_hand_meant_them(tmp_path: Path) -> None:
    node = shutil.which("node")
    assert node, "Node is not installed; as root: apt-get install nodejs"
    for told in TOLD:
        shutil.copy(HERE / told, modules(tmp_path))
    ran = subprocess.run([node, "--test", *TOLD], cwd=tmp_path, capture_output=True, text=True, timeout=60, check=False)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "# fail 0" in ran.stdout
    assert "# pass 0" not in ran.stdout
