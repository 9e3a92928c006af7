"""Thickness by thumb: what keys make of a measurement, run by Node from the very files that the phone loads."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest
from django.conf import settings

HERE = Path(__file__).parent
MODULES = Path(settings.BASE_DIR, "static", "field")


@pytest.mark.once
def test_keys_make_readings_as_the_hand_meant_them(tmp_path: Path) -> None:
    shutil.copytree(MODULES, tmp_path, dirs_exist_ok=True)
    (tmp_path / "package.json").write_text(json.dumps({"type": "module"}))
    for told in ("thumb.mjs", "thumb_check.mjs"):
        shutil.copy(HERE / told, tmp_path)
    ran = subprocess.run(
        ["node", "--test", "thumb.mjs", "thumb_check.mjs"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "# fail 0" in ran.stdout
    assert "# pass 0" not in ran.stdout
