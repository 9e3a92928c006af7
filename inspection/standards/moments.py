"""A moment as a person writes it: date, time and offset from UTC."""

from __future__ import annotations

from datetime import datetime

EARLIEST_YEAR, LATEST_YEAR = 1900, 2200


def moment_of(written: object) -> datetime:
    """The moment, which always carries its offset from UTC; raises ValueError with a message for who wrote it."""
    try:
        moment = datetime.fromisoformat(written.strip() if isinstance(written, str) else "")
    except ValueError:
        raise ValueError("give date and time like 2026-05-31T08:30+02:00") from None
    if moment.tzinfo is None:
        raise ValueError("say the offset from UTC too, like 2026-05-31T08:30+02:00")
    if not EARLIEST_YEAR <= moment.year <= LATEST_YEAR:
        raise ValueError(f"give a year from {EARLIEST_YEAR} to {LATEST_YEAR}")
    return moment
