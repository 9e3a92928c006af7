"""Induction time and pot life at temperature, from a declared table or from the rule of halving."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from fractions import Fraction
from itertools import pairwise

from inspection.standards.faults import InputFault
from inspection.standards.mixing import SOLVENTS
from inspection.standards.moments import moment_of
from inspection.standards.registry import Source, calculation, items, number, result, text
from inspection.standards.units import shown

DATA_SHEET = Source("Data sheet of the product", "induction time and pot life as declared", "",
                    "common practice, no source")  # fmt: skip
CAREFUL = Source("Between stated temperatures", "the warmer row for pot life, the colder for induction", "",
                 "common practice, no source")  # fmt: skip
HALVING = Source("UFGS 09971", "pot life about half for each 10 °C up, double for each 10 °C down", "",
                 "stored source")  # fmt: skip
NEVER_STRETCH = Source("UFGS 09971", "never thin to stretch pot life", "", "stored source")
CAUTION = (
    "Volume, vessel and, for some products, humidity move pot life; a large pot heats itself and may smoke. Paint "
    "that thickens is thrown away, never thinned. " + SOLVENTS
)
FARTHEST_C = 20


@dataclass(frozen=True, kw_only=True)
class PotLifeRow:
    temperature_c: Fraction = number("Temperature", minimum=-40, maximum=100)
    pot_life_hours: Fraction = number("Pot life", unit="h", above=0, maximum=1000)
    induction_minutes: Fraction | None = number("Induction time", unit="min", minimum=0, maximum=1440, optional=True)


@dataclass(frozen=True, kw_only=True)
class PotLifeIn:
    paint_c: Fraction = number("Temperature of the mixed paint", minimum=-40, maximum=100)
    data_sheet: tuple[PotLifeRow, ...] = items("Times of the data sheet", PotLifeRow, most=50)
    mixed_at: str | None = text(
        "Mixed at", help="Date and time with its offset, as 2026-05-31T08:30+02:00.", optional=True
    )

    def __post_init__(self) -> None:
        rows = sorted(self.data_sheet, key=lambda row: row.temperature_c)
        for cooler, warmer in pairwise(rows):
            if cooler.temperature_c == warmer.temperature_c:
                raise InputFault.at("data_sheet", f"{shown(cooler.temperature_c)} °C is stated twice")
            if warmer.pot_life_hours > cooler.pot_life_hours:
                raise InputFault.at("data_sheet", "pot life does not grow as it gets warmer")
        stated = [row.induction_minutes is not None for row in rows]
        if any(stated) and not all(stated):
            raise InputFault.at("data_sheet", "give an induction time in every row or in none")
        if not rows[0].temperature_c <= self.paint_c <= rows[-1].temperature_c:
            raise InputFault.at(
                "paint_c",
                f"the data sheet reaches from {shown(rows[0].temperature_c)} to {shown(rows[-1].temperature_c)} °C; "
                "nothing is guessed beyond",
            )
        if self.mixed_at is not None:
            try:
                moment_of(self.mixed_at)
            except ValueError as wrong:
                raise InputFault.at("mixed_at", str(wrong)) from None


@dataclass(frozen=True, kw_only=True)
class PotLifeOut:
    induction_minutes: Fraction | None = result("Induction time", unit="min", optional=True)
    pot_life_hours: Fraction = result("Pot life", unit="h")
    usable_from: str | None = result("Usable from", optional=True)
    usable_until: str | None = result("Usable until", optional=True)
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "pot-life",
    title="Induction time and pot life at a temperature",
    group="Paint",
    sources=(DATA_SHEET, CAREFUL, NEVER_STRETCH),
    example={
        "paint_c": 25,
        "data_sheet": [{"temperature_c": 10, "pot_life_hours": 8, "induction_minutes": 30},
                       {"temperature_c": 20, "pot_life_hours": 4, "induction_minutes": 15},
                       {"temperature_c": 30, "pot_life_hours": 2, "induction_minutes": 10}],
        "mixed_at": "2026-05-31T08:30+02:00",
    },
    caution=CAUTION,
)  # fmt: skip
def pot_life(inputs: PotLifeIn) -> PotLifeOut:
    """Induction time and pot life from the declared times of a data sheet, on the careful side between its rows.

    At a stated temperature the stated times count. Between two, pot life is that of the warmer row (the shorter) and
    induction time the longer of the two; outside the table is an error. Temperatures −40 to 100 °C, times in hours and
    minutes. Pot life runs from mixing and includes the induction time (common practice, no source: see the data sheet).
    """
    rows = sorted(inputs.data_sheet, key=lambda row: row.temperature_c)
    warmer = next(row for row in rows if row.temperature_c >= inputs.paint_c)
    colder = next(row for row in reversed(rows) if row.temperature_c <= inputs.paint_c)
    stated = [row.induction_minutes for row in (colder, warmer) if row.induction_minutes is not None]
    induction = max(stated, default=None)
    notes = []
    if colder is not warmer:
        notes.append(
            f"Between {shown(colder.temperature_c)} and {shown(warmer.temperature_c)} °C: the shorter pot life and the "
            "longer induction time of the two rows."
        )
    if induction is not None and induction >= 60 * warmer.pot_life_hours:
        notes.append("By these careful figures the pot life ends before the induction time: ask the paint maker.")
    return PotLifeOut(
        induction_minutes=induction,
        pot_life_hours=warmer.pot_life_hours,
        usable_from=None if induction is None else _after(inputs.mixed_at, induction / 60),
        usable_until=_after(inputs.mixed_at, warmer.pot_life_hours),
        notes=tuple(notes),
    )


def _after(mixed_at: str | None, hours: Fraction) -> str | None:
    if mixed_at is None:
        return None
    return (moment_of(mixed_at) + timedelta(seconds=round(float(hours) * 3600))).isoformat()


@dataclass(frozen=True, kw_only=True)
class Stay:
    temperature_c: Fraction = number("Temperature", minimum=-40, maximum=100)
    hours: Fraction = number("For", unit="h", above=0, maximum=1000)


@dataclass(frozen=True, kw_only=True)
class HalvingIn:
    reference_hours: Fraction = number("Pot life stated", unit="h", above=0, maximum=1000)
    reference_c: Fraction = number(
        "Stated for", unit="°C", help="As the data sheet says: often 23, in one text 21.", minimum=-40, maximum=100
    )
    temperature_c: Fraction = number("Temperature of the paint now", minimum=-40, maximum=100)
    stays: tuple[Stay, ...] | None = items("Time spent since mixing", Stay, most=100, optional=True)

    def __post_init__(self) -> None:
        self._refuse_far(self.temperature_c, "temperature_c")
        for place, stay in enumerate(self.stays or ()):
            self._refuse_far(stay.temperature_c, f"stays[{place}].temperature_c")

    def _refuse_far(self, temperature: Fraction, field: str) -> None:
        if abs(temperature - self.reference_c) > FARTHEST_C:
            raise InputFault.at(
                field, f"must be within {FARTHEST_C} °C of reference_c: the rule is too rough farther away"
            )


@dataclass(frozen=True, kw_only=True)
class HalvingOut:
    pot_life_hours: float = result("Pot life at the temperature now, about", unit="h")
    used_pct: float = result("Of the pot life used, about")
    left_hours: float = result("Left at the temperature now, about", unit="h")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "pot-life-estimate",
    title="Pot life by the rule of halving, an estimate",
    group="Paint",
    sources=(HALVING, NEVER_STRETCH),
    example={
        "reference_hours": 4, "reference_c": 21, "temperature_c": 31, "stays": [{"temperature_c": 21, "hours": 1}],
    },
    caution="A rough rule, only for temperatures between those of the data sheet, and never instead of it. " + CAUTION,
)  # fmt: skip
def pot_life_estimate(inputs: HalvingIn) -> HalvingOut:
    """Pot life at another temperature: half for each 10 °C up, double for each 10 °C down, and how much is used.

    p(T) = p_ref × 2^((T_ref − T)/10), hours and °C; temperatures within 20 °C of the reference (our declared range).
    Time spent at several temperatures uses up shares of the pot life, which are summed. The temperature that a stated
    pot life belongs to has no default.
    """
    at = _halved(inputs)
    used = sum(float(stay.hours) / at(stay.temperature_c) for stay in inputs.stays or ())
    now = at(inputs.temperature_c)
    return HalvingOut(
        pot_life_hours=now,
        used_pct=100 * used,
        left_hours=max(0.0, (1 - used) * now),
        notes=("The pot life is used up: throw the paint away.",) if used >= 1 else (),
    )


def _halved(inputs: HalvingIn) -> Callable[[Fraction], float]:
    return lambda at: float(inputs.reference_hours) * 2 ** (float(inputs.reference_c - at) / 10)
