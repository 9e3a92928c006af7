"""What a verdict may say of a sample that is not whole."""

from __future__ import annotations

from collections.abc import Iterable

from inspection.standards.registry import Check

INCOMPLETE = "incomplete"


def verdict_of_sample(decisive: Iterable[Check], complete: Iterable[Check], together: Iterable[Check] = ()) -> str:
    """ "fail" where a value alone decides, "incomplete" while something is still to measure, else pass or fail.

    ``decisive`` are checks that hold whatever else is measured; ``complete`` those on how much was measured;
    ``together`` those on all values at once, such as their mean, which say nothing before the sample is whole.
    """
    if not all(check.passed for check in decisive):
        return "fail"
    if not all(check.passed for check in complete):
        return INCOMPLETE
    return "pass" if all(check.passed for check in together) else "fail"
