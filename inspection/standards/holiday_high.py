"""High-voltage holiday testing where no one rule names the voltage: pipe in epoxy, and a voltage declared."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.holiday import CAUTION, DIELECTRIC
from inspection.standards.registry import (
    Check,
    InputFault,
    Judged,
    Source,
    calculation,
    judged,
    number,
    result,
    thickness,
)
from inspection.standards.units import UM_PER_MIL

SP0490 = Source("NACE SP0490", "2007, fusion-bonded epoxy on pipe, 10 to 30 mil", "", "stored source")
SP0490_LAW = Source("NACE SP0490", "525 × √mil", "", "from memory")
REGULATOR = Source("US pipeline regulator's advice", "125 to 150 V/mil for the thickest place", "", "stored source")
ISO_29601 = Source("ISO 29601", "2011, high and low voltage by thickness; voltages unknown here", "", "stored source")
AIR = Source("Instrument handbook", "air breaks down at 1.3 to 4 kV/mm", "", "stored source")

SP0490_LEAST_UM, SP0490_MOST_UM = 10 * UM_PER_MIL, 30 * UM_PER_MIL
VOLTS_PER_ROOT_MIL = 525
ADVICE_V_PER_MIL = (125, 150)
AIR_V_PER_UM = (Fraction(13, 10), Fraction(4))  # 1 kV/mm is 1 V/µm
STRENGTH_HELP = "From the coating's maker. 1 kV/mm is 1 V/µm."


def _bears(strength: Fraction | None, thinnest_um: Fraction) -> float | None:
    return None if strength is None else float(strength * thinnest_um)


def _below_strength(volts: float | Fraction, bears: float) -> Check:
    sentence = "The voltage must stay below dielectric strength times the thinnest film."
    return Check("dielectric strength", "instrument handbook", sentence, bears, volts, volts < bears, unit="V",
                 counted_in="film")  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class PipeIn:
    dry_film_um: Fraction = thickness("Dry film", minimum=SP0490_LEAST_UM, maximum=SP0490_MOST_UM)
    thickest_film_um: Fraction | None = thickness(
        "Thickest film expected", minimum=SP0490_LEAST_UM, maximum=SP0490_MOST_UM, optional=True
    )
    thinnest_film_um: Fraction | None = thickness("Thinnest film found", above=0, optional=True)
    dielectric_strength_kv_per_mm: Fraction | None = number(
        "Dielectric strength of the coating", unit="kV/mm", help=STRENGTH_HELP, above=0, maximum=500, optional=True
    )

    def __post_init__(self) -> None:
        if self.thickest_film_um is not None and self.thickest_film_um < self.dry_film_um:
            raise InputFault.at("thickest_film_um", "must not be less than dry_film_um")
        if self.thinnest_film_um is not None and self.thinnest_film_um > self.dry_film_um:
            raise InputFault.at("thinnest_film_um", "must not be more than dry_film_um")


@dataclass(frozen=True, kw_only=True)
class PipeOut(Judged):
    formula_v: float = result("By the formula, 525 × √mil")
    advised_least_v: float = result("By the regulator's advice, at least")
    advised_most_v: float = result("By the regulator's advice, at most")
    most_the_film_bears_v: float | None = result("Most the thinnest film bears", optional=True)
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "holiday-pipe-epoxy",
    title="Holiday test voltages for fusion-bonded epoxy on pipe",
    group="Tests",
    sources=(SP0490, SP0490_LAW, REGULATOR, DIELECTRIC),
    example={"dry_film_mil": 16, "thickest_film_mil": 20, "thinnest_film_mil": 14, "dielectric_strength_kv_per_mm": 30},
    caution=CAUTION,
)
def holiday_pipe_epoxy(inputs: PipeIn) -> PipeOut:
    """The two voltages in use for fusion-bonded epoxy on pipe, side by side; none of them is chosen here.

    NACE SP0490 (formula from memory): 525 × √mil, for 254 to 762 µm (10 to 30 mil) only. A pipeline regulator advises
    125 to 150 V/mil of the thickest film expected, which is more. With the maker's dielectric strength each is held
    against the thinnest film; without it the verdict is "not judged".
    """
    film_mil = float(inputs.dry_film_um / UM_PER_MIL)
    thickest_mil = (inputs.thickest_film_um or inputs.dry_film_um) / UM_PER_MIL
    formula = VOLTS_PER_ROOT_MIL * math.sqrt(film_mil)
    least, most = (float(volts * thickest_mil) for volts in ADVICE_V_PER_MIL)
    bears = _bears(inputs.dielectric_strength_kv_per_mm, inputs.thinnest_film_um or inputs.dry_film_um)
    checks = () if bears is None else (_below_strength(max(formula, most), bears),)
    notes = ["The two rules differ: the specification says which is meant."]
    if inputs.thickest_film_um is None:
        notes.append("No thickest film was given, so the advice is worked out for the film itself.")
    return PipeOut(
        verdict=judged(checks) if checks else "not judged",
        rule="the greatest of these voltages against the thinnest film",
        edition="",
        checks=checks,
        formula_v=formula,
        advised_least_v=least,
        advised_most_v=most,
        most_the_film_bears_v=bears,
        notes=tuple(notes),
    )


@dataclass(frozen=True, kw_only=True)
class DeclaredIn:
    voltage_v: Fraction = number("Voltage declared", help="By the specification or the maker.", above=0, maximum=40_000)
    thinnest_film_um: Fraction = thickness("Thinnest film found", above=0, maximum=25_400)
    thickest_film_um: Fraction = thickness("Thickest film found", above=0, maximum=25_400)
    dielectric_strength_kv_per_mm: Fraction | None = number(
        "Dielectric strength of the coating", unit="kV/mm", help=STRENGTH_HELP, above=0, maximum=500, optional=True
    )

    def __post_init__(self) -> None:
        if self.thickest_film_um < self.thinnest_film_um:
            raise InputFault.at("thickest_film_um", "must not be less than thinnest_film_um")


@dataclass(frozen=True, kw_only=True)
class DeclaredOut(Judged):
    cannot_spark_below_v: Fraction = result("No spark through a hole in the thickest film below")
    sparks_from_v: Fraction = result("A spark may be counted on from")
    most_the_film_bears_v: float | None = result("Most the thinnest film bears", optional=True)
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "holiday-declared-voltage",
    title="A declared high voltage against air and film (ISO 29601)",
    group="Tests",
    sources=(ISO_29601, AIR, DIELECTRIC),
    example={"voltage_v": 4000, "thinnest_film_um": 600, "thickest_film_um": 900, "dielectric_strength_kv_per_mm": 15},
    caution=CAUTION,
)
def holiday_declared_voltage(inputs: DeclaredIn) -> DeclaredOut:
    """Can a declared voltage find a hole in the thickest film, and does the thinnest bear it?

    For ISO 29601 and every specification that leaves the voltage to the parties: the voltages of ISO 29601 are not
    known here. Air breaks down at 1.3 to 4 kV/mm (1.3 to 4 V/µm): below the lower figure nothing is found, from the
    upper on a spark may be counted on, between them it is not judged. Films to 25 400 µm, voltages to 40 000 V.
    """
    low, high = (rate * inputs.thickest_film_um for rate in AIR_V_PER_UM)
    sentence = "The voltage must be able to break down the air in a hole through the thickest film."
    checks = [Check("break-down of air", "instrument handbook", sentence, low, inputs.voltage_v,
                    inputs.voltage_v >= low, unit="V", counted_in="film")]  # fmt: skip
    bears = _bears(inputs.dielectric_strength_kv_per_mm, inputs.thinnest_film_um)
    notes = []
    if bears is not None:
        checks.append(_below_strength(inputs.voltage_v, bears))
    else:
        notes.append("Without the maker's dielectric strength nobody knows whether the film bears the voltage.")
    if low <= inputs.voltage_v < high:
        notes.append("Between the two figures for air a hole may be missed: ask the maker and the specification.")
    whole = bears is not None and inputs.voltage_v >= high
    verdict = judged(checks)
    return DeclaredOut(
        verdict=verdict if whole or verdict == "fail" else "not judged",
        rule="break-down of air and dielectric strength",
        edition="",
        checks=tuple(checks),
        cannot_spark_below_v=low,
        sparks_from_v=high,
        most_the_film_bears_v=bears,
        notes=tuple(notes),
    )
