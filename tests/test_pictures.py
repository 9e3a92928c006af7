"""The README shows the platform: the pictures that `make pictures` takes, as files of this repository."""

from __future__ import annotations

import re
import struct

from tests import services
from tests.pictures import FOLDER, PICTURES


def test_the_readme_shows_the_four_pictures_that_are_taken() -> None:
    shown = re.findall(r"!\[[^\]]{20,}\]\(docs/pictures/([a-z-]+)\.png\)", (services.ROOT / "README.md").read_text())
    assert sorted(shown) == sorted(picture.name for picture in PICTURES)
    assert len(shown) == 4


def test_each_picture_is_of_its_screen_and_all_are_small() -> None:
    files = {picture: FOLDER / f"{picture.name}.png" for picture in PICTURES}
    # The width and height of a PNG stand in its first chunk (ISO/IEC 15948, 11.2.2 IHDR).
    sizes = {picture: struct.unpack(">II", path.read_bytes()[16:24]) for picture, path in files.items()}
    assert sizes == {picture: picture.screen for picture in PICTURES}
    assert sum(path.stat().st_size for path in files.values()) < 1_000_000


def test_the_guides_to_the_field_app_show_each_picture_of_it_and_each_is_small() -> None:
    guides = [*(services.ROOT / "docs" / "howto").glob("*.md"), *(services.ROOT / "docs" / "explanation").glob("*.md")]
    shown = [
        name
        for guide in guides
        for name in re.findall(r"!\[[^\]]{20,}\]\(\.\./pictures/(field-[a-z-]+)\.png\)", guide.read_text())
    ]
    files = {path.stem: path for path in FOLDER.glob("field-*.png")}
    assert sorted(shown) == sorted(files), "each once"
    for path in files.values():
        assert struct.unpack(">II", path.read_bytes()[16:24])[0] == 390
        assert path.stat().st_size <= 60_000, path.name
