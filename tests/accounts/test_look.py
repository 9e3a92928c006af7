"""The look: every class a template uses is defined, and colours are told apart as WCAG 2.2 asks."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
CSS = "".join((ROOT / "static" / "css" / name).read_text() for name in ("house.css", "field.css"))
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))
LIGHT, DARK = (
    dict(re.findall(r"--([\w-]+): (#[0-9a-f]{3,6});", block))
    for block in re.findall(r":root \{(.*?)\n\s*\}", CSS, re.S)[:2]
)
# Text on what it is written on. 1.4.3 asks 4.5; running text in sunlight gets 7, as 1.4.6 (AAA) asks.
TEXT = [
    ("ink", "ground", 7), ("ink", "surface", 7), ("ink", "sunk", 7), ("soft", "ground", 7), ("soft", "surface", 7),
    ("soft", "sunk", 4.5), ("accent", "ground", 7), ("accent", "surface", 7), ("on-accent", "accent", 7),
    ("good", "good-bg", 4.5), ("bad", "bad-bg", 4.5), ("doubt", "doubt-bg", 4.5), ("wait", "wait-bg", 4.5),
    ("plain", "plain-bg", 4.5), ("ink", "good-bg", 7), ("ink", "bad-bg", 7), ("ink", "doubt-bg", 7),
    ("ink", "wait-bg", 7),
    # 1.4.11: edges of fields and the mark of the focus, 3.
    ("edge", "surface", 3), ("edge", "ground", 3), ("focus", "ground", 3), ("focus", "surface", 3),
]  # fmt: skip


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2."""
    text = colour.lstrip("#")
    text = "".join(digit * 2 for digit in text) if len(text) == 3 else text
    parts = [int(text[place : place + 2], 16) / 255 for place in (0, 2, 4)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_contrast_formula_gives_the_known_ends() -> None:
    assert contrast("#000", "#fff") == pytest.approx(21)
    # WCAG's own technique G18 gives #777 on white as just failing 4.5.
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize(("text", "under", "least"), TEXT)
def test_words_stand_out_in_light_and_dark(text: str, under: str, least: float) -> None:
    for colours in (LIGHT, {**LIGHT, **DARK}):
        assert contrast(colours[text], colours[under]) >= least, f"{colours[text]} on {colours[under]}"


def classes_of(template: Path) -> set[str]:
    """Without those that a variable completes."""
    markup = re.sub(r"\{%.*?%\}", " ", template.read_text())
    values = re.findall(r'class="([^"]*)"', re.sub(r"[\w-]*\{\{.*?\}\}[\w-]*", " ", markup))
    return {name for value in values for name in value.split()}


def test_every_class_a_template_uses_is_defined() -> None:
    defined = set(re.findall(r"\.([a-zA-Z][\w-]*)", CSS))
    unknown = {path.relative_to(ROOT).as_posix(): classes_of(path) - defined for path in TEMPLATES}
    assert not {path: names for path, names in unknown.items() if names}


def test_no_template_asks_for_what_the_policy_refuses_or_for_another_host() -> None:
    wrong = re.compile(r"<style|\sstyle=|<script(?![^>]+src=)|\son[a-z]+=|javascript:|(?:src|href)=\"(?:https?:)?//")
    for path in TEMPLATES:
        markup = re.sub(r"\{[%{#].*?[#%}]\}", "", path.read_text())
        assert not wrong.findall(markup), path
    assert not re.search(r"url\((?!['\"]?data:)|@import", CSS)
