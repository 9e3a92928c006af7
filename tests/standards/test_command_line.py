"""``python -m inspection.standards``."""

from __future__ import annotations

import json
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from inspection.standards import all_calculations, calculate
from inspection.standards.__main__ import main

PA2 = '{"minimum_um": 100, "spots_um": [[101, 99.9, 103], 102, 102, 102, 102]}'


def run(*arguments: str, stdin: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "inspection.standards", *arguments],
        input=stdin,
        capture_output=True,
        text=True,
        check=False,
    )


def test_one_object_in_one_object_out() -> None:
    done = run("dft-pa2", PA2)
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["verdict"] == "pass"
    assert run("dft-pa2", stdin=PA2).stdout == done.stdout


def test_bad_input_exits_2_with_one_line_per_fault() -> None:
    done = run("dft-pa2", '{"minimum_um": "100", "spots": []}')
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.splitlines() == [
        "spots: unknown field; did you mean spots_um?",
        "minimum_um: give a number, not text (no quotation marks)",
    ]


def test_it_lists_all_calculations(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["list"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in lines] == [known.name for known in all_calculations()]


@pytest.mark.parametrize(
    "arguments", [["--text", "dft-pa2", PA2], ["dft-pa2", "--text", PA2], ["dft-pa2", PA2, "--text"]]
)
def test_it_explains_in_text(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(arguments) == 0
    told = capsys.readouterr().out
    assert "[pass] Every spot mean is at least 80 % of the specified minimum." in told
    assert "limit 80 µm; observed 101.3 µm" in told
    assert "(from memory)" in told


def test_it_tells_the_fields(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["verify-gauge", "--fields"]) == 0
    assert "certified_um or certified_mil" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ("{", "input: is not JSON"),
        ("[1]", "input: give an object with named fields"),
        ("", "input: is not JSON"),
        ('{"minimum_um": 1, "minimum_um": 2}', "minimum_um: is given twice"),
        ('{"minimum_um": NaN, "spots_um": [[1]]}', "minimum_um: give a finite number"),
        ("[" * 100_000, "input: is nested too deeply"),
        ('{"minimum_um": 1' + "0" * 5000 + ', "spots_um": [[1]]}', ":"),
    ],
)
def test_what_is_no_usable_json_is_refused(given: str, told: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["dft-pa2", given]) == 2
    assert told in capsys.readouterr().err


def test_an_unknown_calculation_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["dft-pa3", "{}"]) == 2
    assert "did you mean dft-pa2?" in capsys.readouterr().err


DOCUMENT = Path(__file__).parents[2] / "docs" / "reference" / "thickness-verification.md"


def documented() -> list[str]:
    return [
        line for line in DOCUMENT.read_text(encoding="utf-8").splitlines() if line.startswith("python -m inspection")
    ]


@pytest.mark.parametrize("line", documented())
def test_a_command_shown_in_the_documents_works(line: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(shlex.split(line)[3:]) == 0
    assert capsys.readouterr().out


def test_the_documented_draw_gives_the_digest_of_the_calculation() -> None:
    (line,) = [line for line in DOCUMENT.read_text(encoding="utf-8").splitlines() if line.endswith("sha256sum")]
    by_shell = subprocess.run(["sh", "-c", line], capture_output=True, text=True, check=True).stdout.split()[0]
    answer = calculate("choose-areas", {"seed": "lot 4", "areas": ["bay 7"]})
    assert answer["candidates"][0]["digest"] == by_shell
