"""docs/reference/api.md says what is true: its commands run, its table of problems is the catalogue."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from accounts import actions
from inspection.fieldwork.models import ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.foundation.problems import CATALOGUE
from inspection.nonconformance.actions import raise_nonconformance
from tests.cast import Cast
from tests.notices.scene import HOUR, planned

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "reference" / "api.md").read_text()
COMMANDS = re.findall(r"```sh\n(.*?)```", PAGE, re.S)


def test_each_command_of_the_page_does_what_it_says(transactional_db: None, cast: Cast, live_server: Any) -> None:
    assert shutil.which("curl"), "the page's commands need curl"
    _, token = actions.make_token(cast.ines, name="the page", days=1)
    raised = raise_nonconformance(cast.ines, area=cast.site.other_area, coat=cast.site.coats[0], title="Sags")
    tomorrow = timezone.now() + 24 * HOUR
    env = {
        "PATH": os.environ["PATH"], "SITE": live_server.url, "TOKEN": token, "NEW_ID": str(new_id()),
        "PROJECT": str(cast.site.project.pk), "AREA": str(cast.site.area.pk), "COAT": str(cast.site.coats[0].pk),
        "GAUGE": str(cast.gauge.pk), "NONCONFORMANCE": str(raised.pk), "NO_PROXY": "*", "LINE": str(planned(cast).pk),
        "BEGIN": f"{tomorrow:%Y-%m-%dT%H:%M}Z", "END": f"{tomorrow + HOUR:%Y-%m-%dT%H:%M}Z",
    }  # fmt: skip
    answers = []
    for command in COMMANDS:
        done = subprocess.run(["sh", "-c", command], env=env, capture_output=True, text=True, check=False)
        assert done.returncode == 0, f"{command}\n{done.stdout}{done.stderr}"
        answers.append(json.loads(done.stdout))
    me, stored, rework, notice, delay, listed = answers
    assert (notice["state"], notice["meeting_place"]) == ("standing", "Gate 2")
    assert (rework["kind"], rework["done_by"], raised.dispositions.count()) == ("rework", "Crew 2", 1)
    assert delay["told"] == "Weather, 2.5 h"
    assert me["email"] == cast.ines.email
    assert stored["id"] == listed["results"][0]["id"] == env["NEW_ID"]
    assert ThicknessRecord.objects.get(pk=env["NEW_ID"]).reading_count == 6


def test_the_table_of_problems_is_the_catalogue() -> None:
    rows = re.findall(r"^\| (\d{3}) \| `([a-z-]+)` \|", PAGE, re.M)
    assert [(int(status), name) for status, name in rows] == [(s, kind.name) for s, kind in CATALOGUE.items()]


@pytest.mark.parametrize("number", ["12 MB", "at most 366", "at most 20", "50 at a time", "up to 500"])
def test_the_limits_it_names_are_in_the_page(number: str) -> None:
    from django.conf import settings

    from accounts.api import NewestFirst

    real = {
        "12 MB": settings.DATA_UPLOAD_MAX_MEMORY_SIZE == 12 * 1024**2,
        "at most 366": actions.TOKEN_MOST_DAYS == 366,
        "at most 20": actions.TOKENS_A_PERSON == 20,
        "50 at a time": NewestFirst.page_size == 50,
        "up to 500": NewestFirst.max_page_size == 500,
    }
    assert number in PAGE
    assert real[number]
