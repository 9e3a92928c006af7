"""Chains of the day that are not met: what had to come before, what was found, and why work or a release went on."""

from __future__ import annotations

from reportlab.platypus import Flowable

from reports.daily.facts import DayFacts
from reports.daily.pdf.pieces import clock, section, table


def chains(facts: DayFacts) -> list[Flowable]:
    """A line for each link; no part where every chain of the day is met, or nothing is recorded of it."""
    rows = [
        (
            clock(facts, row.at), row.what, row.area, row.link, row.found,
            f"Accepted by {row.accepted}" if row.accepted else row.asked_by,
        )
        for row in facts.chains
    ]  # fmt: skip
    heads = ("Time", "Lot or point", "Area", "Had to come before", "Found", "Asked for by, or accepted by")
    content = table(heads, (36, 88, 60, 76, 130, 120), rows)
    return section("Chains that are not met", content) if content else []
