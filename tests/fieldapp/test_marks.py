"""What the phone draws over a photo is what the office draws from the same data, and the office takes it as sent."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from inspection.photos import layers
from tests.fieldapp.phone import by_node

HERE = Path(__file__).parent


@pytest.mark.once
def test_marks_made_moved_and_undone_on_the_phone_are_drawn_said_and_kept_alike_at_the_office(tmp_path: Path) -> None:
    strokes: list[list[Any]] = [
        ["added", "arrow", [0.1, 0.2], [0.7, 0.55]], ["added", "arrow", [0.95, 0.99], [0.95, 0.99]],
        ["added", "circle", [0.2, 0.25], [0.45, 0.8]], ["added", "circle", [0.5, 0.99], [0.5, 0.99]],
        ["added", "circle", [0.5, 0.5], [0.55, 0.53]], ["added", "text", [0.99, 0.0], [0.99, 0.0]],
        ["worded", 5, " rust "], ["worded", 2, "blister"], ["added", "text", [0.3, 0.3], [0.3, 0.3]],
        ["moved", 0, "to", [0.1, -0.2]], ["moved", 0, "whole", [-0.5, 0]], ["moved", 3, "whole", [0, 0.3]],
    ]  # fmt: skip
    typed: list[list[Any]] = [["added", "text", [0.5, 0.5], [0.5, 0.5]], ["worded", 0, "r"], ["worded", 0, "ru"]]
    asked = [strokes, [*typed, ["undone"]], [*typed, ["undone"], ["undone"], ["undone"]], [*typed, ["removed", 0]],
             [["added", "arrow", [0.5, 0.5], [0.4, 0.5]], ["moved", 0, "to", [0.1, 0]]],
             [["added", "text", [0, 0]]] * (layers.MOST_SHAPES + 1)]  # fmt: skip
    told = by_node(tmp_path, HERE / "marks.mjs", [{"steps": each, "width": 1600, "height": 1200} for each in asked])
    many = told[0]

    assert layers.checked(many["sent"]) == many["sent"], "taken as sent, rounded already"
    assert [each["shape"] for each in many["shapes"]] == [
        "arrow",
        "arrow",
        "circle",
        "circle",
        "circle",
        "text",
        "text",
    ]
    assert len(many["sent"]) == 6, "a text without words is none"
    drawn = layers.drawn([{**each, "text": each["text"]} for each in many["shapes"]], 1600, 1200)
    for ours, theirs in zip(many["drawn"], drawn, strict=True):
        for name in ("x1", "y1", "x2", "y2", "text_x", "text_y"):
            assert ours[name] == pytest.approx(getattr(theirs, name), abs=0.06), (theirs.shape, name)
        assert ours["anchor"] == theirs.anchor
        assert [each for point in ours["head"] for each in point] == pytest.approx(
            [each for point in theirs.head for each in point], abs=0.06
        )
    assert many["words"][:6] == layers.in_words(many["sent"])
    # The stroke is what is seen: the office draws a circle half a cell further out than its places.
    box = many["drawn"][2]
    assert [box["x1"], box["y1"], box["x2"], box["y2"]] == pytest.approx([320, 300, 720, 960], abs=0.5)
    assert many["shapes"][0]["from"] == [0, 0.2], "never out of the picture"
    assert many["shapes"][0]["to"] == [0.7, 0.35]

    assert told[1]["shapes"][0]["text"] == "", "words typed in one go are undone in one go"
    assert told[2] == {"shapes": [], "drawn": [], "words": [], "sent": [], "past": 0}, "and no further than nothing"
    assert (told[3]["shapes"], told[3]["past"]) == ([], 3)
    assert told[4]["shapes"][0]["to"] == [0.4, 0.5], "an arrow never ends where it begins, which the office refuses"
    assert len(told[5]["shapes"]) == layers.MOST_SHAPES
