"""What follows from what was mixed: its ratio beside the data sheet's, thinner, usable from and until."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction

from inspection.foundation.refusals import Fault
from inspection.projects.models import DataSheet
from inspection.projects.sheets import parts_of
from inspection.standards.faults import InputFault
from inspection.standards.mixing import BY_MASS, BY_VOLUME, UsedComponent, UsedIn, mixing_check
from inspection.standards.pot_life import PotLifeIn, PotLifeRow, pot_life
from inspection.works.models import PaintBatch
from inspection.works.paint.models import Component, Unit

# Asked about where no tolerance is stated: so far off it is a slip of key or unit (common practice, no source).
FAR_OFF_PCT = Decimal(10)
MEASURE = {Unit.LITRES: BY_VOLUME, Unit.KILOGRAMS: BY_MASS}


@dataclass(frozen=True)
class PartSent:
    """So much of a batch: whole containers, or what was measured, in litres or kilograms (empty: as the batch is)."""

    batch: PaintBatch
    containers: int | None = None
    amount: Decimal | None = None
    unit: str = ""
    # What the sender takes it for; empty: whatever the batch is.
    component: str = ""

    @property
    def measured_in(self) -> str:
        return self.unit or self.batch.unit

    @property
    def used(self) -> Decimal:
        """What it comes to, to the thousandth. Only of a part without faults."""
        if self.amount is not None:
            return self.amount.quantize(Decimal("0.001"))
        holds = self.batch.container_holds
        if holds is None or self.containers is None:
            raise ValueError("a part says how much, or how many containers of a batch that tells what they hold")
        return (holds * self.containers).quantize(Decimal("0.001"))


@dataclass
class Reckoned:
    """How a mix stands by the data sheet, and what is doubtful about it."""

    ratio_by: str = ""
    ratio_wanted: str = ""
    ratio_mixed: str = ""
    deviation_pct: Decimal | None = None
    thinner_pct: Decimal | None = None
    usable_from: datetime | None = None
    usable_until: datetime | None = None
    pot_life_told: str = ""
    questions: list[Fault] = field(default_factory=list)


def reckon(
    parts: Sequence[PartSent], *, sheet: DataSheet | None, mixed_at: datetime, paint_c: Decimal | None
) -> Reckoned:
    """The mix by the figures of the data sheet; without one nothing is judged, and the mix says so."""
    found = Reckoned()
    _ratio(found, parts, sheet)
    _thinner(found, parts, sheet)
    if sheet is None:
        found.pot_life_told = "No data sheet is chosen for the coat, so induction and pot life are not stated."
        return found
    if sheet.induction_minutes is not None:
        found.usable_from = mixed_at + timedelta(minutes=sheet.induction_minutes)
    found.usable_until, found.pot_life_told = usable_until(sheet, mixed_at, paint_c)
    return found


def usable_until(sheet: DataSheet, mixed_at: datetime, paint_c: Decimal | None) -> tuple[datetime | None, str]:
    """Until when paint of this temperature may be used, and how that was found or why it is not stated.

    Between two temperatures that the data sheet states the shorter pot life counts; beyond them nothing is guessed
    (common practice, no source).
    """
    stated = {row.temperature_c: row.pot_life_hours for row in sheet.rows.all() if row.pot_life_hours is not None}
    if sheet.pot_life_hours is not None and sheet.pot_life_at_c is not None:
        stated.setdefault(sheet.pot_life_at_c, sheet.pot_life_hours)
    if not stated:
        return None, f"The data sheet {sheet} does not state a pot life with its temperature."
    if paint_c is None:
        return None, "The temperature of the paint was not measured, so the pot life is not known."
    rows = tuple(
        PotLifeRow(temperature_c=Fraction(at), pot_life_hours=Fraction(hours)) for at, hours in sorted(stated.items())
    )
    try:
        hours = pot_life(PotLifeIn(paint_c=Fraction(paint_c), data_sheet=rows)).pot_life_hours
    except InputFault:
        low, high = (f"{at.normalize():f}" for at in (min(stated), max(stated)))
        reach = f"for {low} °C only" if low == high else f"from {low} to {high} °C"
        return (
            None,
            f"The data sheet states a pot life {reach}, not for {paint_c.normalize():f} °C; nothing is guessed.",
        )
    told = f"{float(hours):g} h for paint of {paint_c.normalize():f} °C"
    if paint_c not in stated:
        told += ", the shorter of the two temperatures beside it"
    return mixed_at + timedelta(hours=float(hours)), f"{told}, by {sheet}."


def _ratio(found: Reckoned, parts: Sequence[PartSent], sheet: DataSheet | None) -> None:
    base, hardener = (
        [part for part in parts if part.batch.component == kind] for kind in (Component.BASE, Component.HARDENER)
    )
    wanted = bool(sheet and (sheet.mixing_by_volume or sheet.mixing_by_mass))
    if not (base and hardener):
        if base or hardener:
            found.questions.append(Fault(f"No {'hardener' if base else 'base'} is named; only one component was mixed.",
                                         "parts"))  # fmt: skip
        elif wanted and any(part.batch.component == Component.SINGLE for part in parts):
            found.questions.append(Fault("The data sheet is of a paint of two components.", "parts"))
        return
    units = {part.measured_in for part in (*base, *hardener)}
    if len(units) > 1:
        found.questions.append(Fault("One component was measured in litres and the other weighed, so their ratio "
                                     "cannot be told.", "parts"))  # fmt: skip
        return
    measure = MEASURE[Unit(units.pop())]
    first, second = sum(part.used for part in base), sum(part.used for part in hardener)
    found.ratio_by, found.ratio_mixed = measure, f"{_short(Decimal(first) / Decimal(second))}:1"
    if sheet:
        _compare(found, Decimal(first), Decimal(second), sheet)


def _compare(found: Reckoned, base: Decimal, hardener: Decimal, sheet: DataSheet) -> None:
    text = sheet.mixing_by_volume if found.ratio_by == BY_VOLUME else sheet.mixing_by_mass
    if not text:
        if sheet.mixing_by_volume or sheet.mixing_by_mass:
            other = "by mass" if found.ratio_by == BY_VOLUME else "by volume"
            told = f"The data sheet states the ratio {other} alone, so one measured by {found.ratio_by} is not judged."
            found.questions.append(Fault(told, "parts"))
        return
    asked = parts_of(text)
    if asked is None or len(asked) != 2:
        return
    found.ratio_wanted = text
    used = UsedIn(
        components=tuple(
            UsedComponent(name=name, parts=Fraction(part), used=Fraction(amount))
            for name, part, amount in (("base", asked[0], base), ("hardener", asked[1], hardener))
        ),
        parts_by=found.ratio_by, used_by=found.ratio_by,
    )  # fmt: skip
    off = mixing_check(used).components[1].deviation_pct
    found.deviation_pct = (Decimal(off.numerator) / off.denominator).quantize(Decimal("0.1"), ROUND_HALF_EVEN)
    tolerance = sheet.mixing_tolerance_pct
    if abs(off) > Fraction(FAR_OFF_PCT if tolerance is None else tolerance):
        told = (
            f"The ratio {found.ratio_mixed} by {found.ratio_by} is {found.deviation_pct:+f} % of hardener off what the "
            f"data sheet asks, {text}"
        )
        more = "" if tolerance is None else f", and it tolerates {tolerance.normalize():f} %"
        slip = ". Check the amounts, and whether they are litres or kilograms: a ratio by mass is not one by volume."
        found.questions.append(Fault(told + more + slip, "parts"))


def _thinner(found: Reckoned, parts: Sequence[PartSent], sheet: DataSheet | None) -> None:
    thinners = [part for part in parts if part.batch.component == Component.THINNER]
    paint = [part for part in parts if part.batch.component != Component.THINNER]
    if not thinners:
        return
    if all(part.measured_in == Unit.LITRES for part in parts) and paint:
        share = 100 * sum(part.used for part in thinners) / sum(part.used for part in paint)
        found.thinner_pct = Decimal(share).quantize(Decimal("0.1"), ROUND_HALF_EVEN)
    else:
        found.questions.append(Fault("Thinner goes by volume, and not all of this was measured in litres; its share "
                                     "cannot be told.", "parts"))  # fmt: skip
    if sheet is None:
        return
    for part in thinners:
        if sheet.thinner and part.batch.product.casefold() != sheet.thinner.casefold():
            found.questions.append(Fault(f"The data sheet names {sheet.thinner} as its thinner, not "
                                         f"{part.batch.product}.", "parts"))  # fmt: skip
    most = sheet.thinner_max_pct
    if found.thinner_pct is not None and most is not None and found.thinner_pct > most:
        given = f"{found.thinner_pct.normalize():f}"
        told = f"{given} % of thinner is more than the data sheet allows, {most.normalize():f} %."
        found.questions.append(Fault(told, "parts"))


def part_faults(parts: Sequence[PartSent]) -> Iterator[Fault]:
    """What is wrong in itself with what was mixed, row by row."""
    if not parts:
        yield Fault("Name the batches it was mixed of.", "parts")
    seen = set()
    for row, part in enumerate(parts, start=1):
        batch = part.batch
        if batch.pk in seen:
            yield Fault(f"{batch} is named twice; give all of it in one row.", "batch", row)
        seen.add(batch.pk)
        if part.component and part.component != batch.component:
            given = Component(part.component).label
            yield Fault(f"{batch} is {batch.get_component_display()}; it is given as {given}.", "component", row)
        yield from _amount_faults(part, row)
    kinds = {part.batch.component for part in parts}
    if Component.SINGLE in kinds and kinds & {Component.BASE, Component.HARDENER}:
        yield Fault("A single-component paint is not mixed with a base or a hardener; check the batches.", "parts")
    if parts and kinds == {Component.THINNER}:
        yield Fault("Thinner alone is no mix; name the paint.", "parts")


def _amount_faults(part: PartSent, row: int) -> Iterator[Fault]:
    holds, batch = part.batch.container_holds, part.batch
    if part.containers is None and part.amount is None:
        yield Fault("Say how many whole containers, or how much was measured.", "amount", row)
    elif part.amount is not None and not 0 < part.amount < 1_000_000:
        yield Fault("Give what was measured, more than 0.", "amount", row)
    elif part.containers is not None and part.containers < 1:
        yield Fault("Give the number of whole containers, 1 or more.", "containers", row)
    elif part.amount is None and holds is None:
        told = f"How many containers of {batch} were received is not recorded; give what was measured."
        yield Fault(told, "containers", row)
    elif part.containers and part.amount is not None and holds and part.measured_in == batch.unit:
        most = holds * part.containers
        if part.amount > most:
            given, several = f"{part.amount.normalize():f} {batch.unit}", part.containers > 1
            told = (
                f"{given} cannot be of {part.containers} container{'s' * several} of {batch}, which "
                f"hold{'s' * (not several)} {_short(most)} {batch.unit}."
            )
            yield Fault(told, "amount", row)


def _short(value: Decimal) -> str:
    return f"{value.quantize(Decimal('0.01')).normalize():f}"
