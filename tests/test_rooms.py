"""The rooms of the house: modules stand alone, no arrow points upwards, who follows a change is told in order."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from django.utils.module_loading import import_string

from inspection.instruments.signals import evidence_changed, tell_of_evidence
from tests.house import HEIGHTS, PAGE, drawing, page_with
from tests.services import ROOT

ROOMS = list(HEIGHTS)


@pytest.mark.once
def test_every_module_imports_alone() -> None:
    env = os.environ | {"DJANGO_SETTINGS_MODULE": "tests.settings"}
    command = [sys.executable, "-W", "ignore", "-m", "tests.alone"]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, env=env, timeout=300, check=True)
    assert done.stdout == ""


def test_the_drawing_of_the_rooms_is_the_house_as_it_is() -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert "flowchart" in page
    assert page_with(drawing(), page) == page


# --- files ----------------------------------------------------------------------------------------------------------
def room_of(path: Path) -> str:
    """The room that a module or, by its folder, a template belongs to; empty for what all share."""
    parts = path.relative_to(ROOT).parts
    if parts[0] == "templates":
        return next((room for room in ROOMS if room.rpartition(".")[2] == parts[1]), "")
    return next((room for room in ROOMS if ".".join(parts).startswith(f"{room}.")), "")


def files_named_in(path: Path) -> Iterator[str]:
    """Files of a room's folder, as `"room/…"` in Python or in the tags of a template, or `/ "room" / …`."""
    text = path.read_text(encoding="utf-8")
    names = "|".join(sorted({room.rpartition(".")[2] for room in ROOMS}))
    yield from re.findall(rf"""["'](({names})/[\w/]+\.\w+)["']""", text)
    yield from ((f"{name}/…", name) for name in re.findall(rf"""/ "({names})" /""", text))


def test_no_lower_room_reads_a_file_of_a_higher_one() -> None:
    heights = {room.rpartition(".")[2]: height for room, height in HEIGHTS.items()}
    folders = [ROOT / room for room in ("accounts", "config", "inspection", "reports", "templates")]
    files = [path for folder in folders for path in folder.rglob("*") if path.suffix in {".py", ".html", ".txt"}]
    found = [
        f"{path.relative_to(ROOT)} reads {name}"
        for path in files
        if room_of(path)
        for name, room in files_named_in(path)
        if heights[room] > HEIGHTS[room_of(path)]
    ]
    assert len(files) > 300
    assert found == []


# --- who follows a change -------------------------------------------------------------------------------------------
FOLLOWING = (
    "inspection.standing.receivers.keep_standings_true",
    "inspection.nonconformance.receivers.judge_remainders",
    "inspection.holdpoints.receivers.mark_points",
    "inspection.nonconformance.receivers.settle_nonconformances",
    "inspection.photos.taking_over.take_over",
)


def test_whoever_follows_evidence_is_named_in_one_place_in_this_order() -> None:
    assert settings.EVIDENCE_LISTENERS == FOLLOWING


@pytest.mark.django_db
def test_nobody_else_listens_and_all_are_told_in_that_order() -> None:
    told: list[str] = [key[0] for key, *_ in evidence_changed.receivers]
    assert told == list(FOLLOWING)
    assert [receiver for receiver, _ in evidence_changed.send(sender=None)] == list(map(import_string, FOLLOWING))


def test_whom_a_listener_wrote_to_comes_back_to_the_sender(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(type(evidence_changed), "send", lambda *_, **__: [(None, None), (None, {1, 2}), (None, {2, 3})])
    assert tell_of_evidence(None) == {1, 2, 3}
