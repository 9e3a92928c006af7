"""What tests are run with is installed apart from what the site runs with."""

from __future__ import annotations

import re
import subprocess

from tests.services import ROOT


def would_run(target: str) -> str:
    """What make would do for the target in a tree where nothing is installed."""
    asked = ["make", "--dry-run", "--always-make", "VENV=/nowhere/site", "DEV_VENV=/nowhere/dev", target]
    done = subprocess.run(asked, cwd=ROOT, capture_output=True, text=True, check=True)
    return done.stdout


def test_serving_installs_only_what_the_site_needs() -> None:
    told = would_run("serve")
    assert re.search(r"/nowhere/site/bin/python -m pip install .* -r requirements\.lock", told)
    assert "/nowhere/dev" not in told


def test_testing_leaves_the_environment_of_the_site_alone() -> None:
    told = would_run("test")
    assert re.search(r"/nowhere/dev/bin/python -m pip install .* -r requirements-dev\.lock", told)
    assert "/nowhere/site" not in told
