"""Whether a batch may be mixed at a moment: in date, extended by its maker, in quarantine, withdrawn. One rule."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from inspection.works.models import BatchStep, PaintBatch

What = BatchStep.What


@dataclass(frozen=True)
class Fitness:
    """How a batch stands at a moment: in words with their mark, and each thing that speaks against mixing it."""

    words: str
    mark: str
    until: date | None
    doubts: tuple[str, ...] = ()
    in_quarantine: bool = False
    # What of it stays so when the batch is released from quarantine.
    lasting: tuple[str, ...] = ()

    @property
    def is_fit(self) -> bool:
        return not self.doubts


def fitness(batch: PaintBatch, at: datetime, steps: Iterable[BatchStep] | None = None) -> Fitness:
    """How the batch stood at the moment, by the steps that nobody withdrew (all of the batch's unless given).

    It may be used through the day of its expiry, on the project's calendar; an extension in writing by the maker counts
    from the day of the letter on (common practice, no source, both). Without an expiry nothing is said of it.
    """
    day = at.astimezone(batch.project.zone).date()
    held = [step for step in (batch.steps.all() if steps is None else steps) if step.withdrawn_at is None]
    letters = [step for step in held if step.what == What.EXTENDED and step.dated and step.dated <= day]
    extended = max((step.expires_on for step in letters if step.expires_on), default=None)
    until = max(filter(None, (batch.expires_on, extended)), default=None)
    doubts, lasting = [], []
    if batch.withdrawn_at and batch.withdrawn_at <= at:
        lasting.append(f"{batch} was withdrawn: {batch.withdrawn_why}")
    quarantine = _quarantined(held, at)
    if quarantine:
        doubts.append(f"{batch} was in quarantine since {_told_at(quarantine)}: {quarantine.why}")
    expired = until is not None and until < day
    if expired:
        lasting.append(f"{batch} had expired on {until:%Y-%m-%d}.")
    told = _told(batch, until, extended, bool(quarantine), expired, at)
    return Fitness(*told, (*doubts, *lasting), bool(quarantine), tuple(lasting))


def set_apart(batch: PaintBatch, at: datetime) -> str:
    """Since when and why the batch is in quarantine at the moment; empty where it is not."""
    held = [step for step in batch.steps.all() if step.withdrawn_at is None]
    step = _quarantined(held, at)
    return f"{batch} is in quarantine since {_told_at(step)}: {step.why}" if step else ""


def _told_at(step: BatchStep) -> str:
    return f"{step.at.astimezone(step.batch.project.zone):%Y-%m-%d %H:%M}"


def _quarantined(steps: Iterable[BatchStep], at: datetime) -> BatchStep | None:
    """The step by which the batch is in quarantine at the moment, if it is: the last word counts."""
    moved = [step for step in steps if step.what in (What.QUARANTINED, What.RELEASED) and step.at <= at]
    last = max(moved, key=lambda step: (step.at, step.entered_at), default=None)
    return last if last and last.what == What.QUARANTINED else None


def _told(
    batch: PaintBatch, until: date | None, extended: date | None, quarantine: bool, expired: bool, at: datetime
) -> tuple[str, str, date | None]:
    if batch.withdrawn_at and batch.withdrawn_at <= at:
        return "Withdrawn", "withdrawn", until
    if quarantine:
        return "In quarantine", "quarantined", until
    if until is None:
        return "Expiry not stated", "incomplete", None
    if expired:
        return f"Expired {until:%Y-%m-%d}", "expired", until
    return f"{'Extended' if until == extended else 'In date'} until {until:%Y-%m-%d}", "valid", until
