"""What may be said of a sample cut short: its checks, those on how much was measured, and its verdict.

A rule asks for a number of values; before they are all taken, a mean or a share may still turn either way, so nothing
is passed and nothing fails by it. What one value breaks by itself (a floor, a maximum) no further value mends: that
fails at once. Common practice, no source: the standards speak of complete samples only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from inspection.standards.registry import Check, Source

LEFT_OUT, MOST_LEFT_OUT = "Left out: they lie in a repaired part", 100_000
REMAINDER = Source(
    "what lies in a repaired part is left out, and the part is measured by its own plan",
    provenance="common practice, no source",
)
UNFINISHED = Source(
    "a sample cut short fails only by what one value breaks for good", provenance="common practice, no source"
)


def asked_of_the_rest(asked: int, *, left_out: int, fewest: int) -> int:
    """How many values a sample still wants where some were left out, since they lie in a part repaired since.

    Those are made up for by the part's own sample; of what remains, no fewer than `fewest` are judged as a whole.
    """
    return max(asked - left_out, min(asked, fewest))


def so_far(checks: Sequence[Check], *, complete: bool) -> tuple[Check, ...]:
    """The checks as far as the sample carries them: cut short, all are open but those broken for good."""
    if complete:
        return tuple(checks)
    return tuple(
        check if check.limit is None or (check.decides_alone and check.passed is False) else replace(check, passed=None)
        for check in checks
    )


def verdict_of(checks: Sequence[Check], *, complete: bool) -> str:
    """ "fail" when a check failed, else "pass" on a complete sample and "incomplete" on one cut short."""
    if any(check.passed is False for check in checks):
        return "fail"
    return "pass" if complete else "incomplete"


def count_check(
    wanted: int, found: int, *, name: str, clause: str, sentence: str, unit: str, counted_in: str,
    short: tuple[int, ...] = (), where: str = "",
) -> Check:  # fmt: skip
    """As many are there as are asked for. What is missing is no failure: the check stays open until it is measured.

    ``short`` are the indexes of those that lack something, ``unit`` what is counted.
    """
    passed = True if found >= wanted else None
    return Check(name, clause, sentence, wanted, found, passed, short, unit, counted_in, where)


def judged_with_counts(checks: Sequence[Check], counts: Sequence[Check]) -> tuple[str, tuple[Check, ...]]:
    """The verdict of a sample that is complete once every one of the ``counts`` is there, and its checks so far."""
    complete = all(count.passed for count in counts)
    found = so_far(checks, complete=complete)
    return verdict_of(found, complete=complete), (*found, *counts)
