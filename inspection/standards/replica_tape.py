"""The grades of replica tape and the heights each is read over."""

from __future__ import annotations

# By grade, from and to in µm, ends included: stored public pages quote them; an older sheet ends coarse at 50. The
# lowest is for checks only, and 127 is the highest value to trust.
RANGES_UM = {"below": (12, 25), "coarse": (20, 64), "extra": (38, 115), "above": (116, 127)}


def outside(grade: str, height_nm: int) -> tuple[int, int] | None:
    """The range of the grade in µm where the height (film of the tape subtracted, whole nm) lies outside it."""
    low, high = RANGES_UM[grade]
    return None if low * 1000 <= height_nm <= high * 1000 else (low, high)
