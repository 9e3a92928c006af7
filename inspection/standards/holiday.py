"""Holiday testing: the voltage a standard names for a film, and the method. Never a permission to test."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from inspection.standards.registry import (
    Check,
    InputFault,
    Judged,
    Source,
    calculation,
    choice,
    judged,
    number,
    result,
    thickness,
)
from inspection.standards.units import UM_PER_MIL

CAUTION = (
    "This figure is where a qualified person starts, not a permission to test. High voltage can kill, light vapour "
    "and puncture sound film. Ask the coating's maker for its dielectric strength; keep below what the thinnest film "
    "can bear. Test only fully cured, dry film (retained solvent conducts); think first about film once in service. "
    "Prove the earth, keep the operator dry and insulated, gas-free the space; wearers of pacemakers keep away. Local "
    "codes, the maker's instructions and licensed practice come first."
)
SPONGE_CAUTION = (
    "Low voltage, wet sponge: the film must be cured and dry, the earth proven; from 0.25 to 0.5 mm use a wetting "
    "agent. Local codes and the coating maker's instructions come first."
)

GOST = Source("GOST 34395", "2018", "Annex DB", "stored source")
G62 = Source("ASTM G62", "525 and 1250 × √mil; the bound of 41 mil", "", "from memory")
SP0274 = Source("NACE SP0274", "1250 × √mil, quoted by an instrument handbook", "", "stored source")
HANDBOOK = Source("MIL-HDBK-1110", "100 V per mil above 20 mil, at most 30 kV", "10.3.13.2", "stored source")
SP0188 = Source("NACE SP0188", "2006, table of suggested voltages; that of the 2024 revision is not known here", "",
                "from memory")  # fmt: skip
D5162 = Source("ASTM D5162", "2021, wet sponge to 0.5 mm (20 mil), high voltage above", "abstract", "stored source")
WETTING = Source("ASTM G62", "wetting agent from 0.254 to 0.508 mm", "method A", "stored source")
DIELECTRIC = Source("Instrument handbook", "upper limit: dielectric strength times film", "", "stored source")


@dataclass(frozen=True)
class TableRow:
    """One row of NACE SP0188-2006, which states its ends in whole mils and in rounded µm."""

    from_mil: int
    to_mil: int
    from_um: int
    to_um: int
    voltage_v: int

    def holds(self, film_um: Fraction) -> bool:
        """A film of whole mils is read from the mils, which leave no gap; every other one from the µm."""
        film_mil = film_um / UM_PER_MIL
        if film_mil.denominator == 1:
            return self.from_mil <= film_mil <= self.to_mil
        return self.from_um <= film_um <= self.to_um

    def __str__(self) -> str:
        return f"{self.from_mil} to {self.to_mil} mil ({self.from_um} to {self.to_um} µm, {self.voltage_v} V)"


# Recalled. Between two rows the table says nothing, and nothing is interpolated.
SP0188_ROWS = (
    TableRow(8, 11, 200, 280, 1500), TableRow(12, 15, 300, 380, 2000), TableRow(16, 20, 400, 500, 2500),
    TableRow(21, 40, 530, 1000, 3000), TableRow(41, 55, 1040, 1400, 4000), TableRow(56, 80, 1420, 2030, 6000),
    TableRow(81, 125, 2060, 3180, 10_000), TableRow(126, 185, 3200, 4700, 15_000),
)  # fmt: skip
G62_BOUND_MIL = 41
HANDBOOK_LEAST_MIL, HANDBOOK_VOLTS_PER_MIL, HANDBOOK_MOST_V = 20, 100, 30_000
JUMP_NEARNESS = 0.1  # within so much of the jump the other branch is shown too


@dataclass(frozen=True, kw_only=True)
class Suggested:
    """A voltage with the branch of the rule that gave it, and the neighbouring branch where the rule jumps."""

    voltage_v: float
    branch: str
    other_branch_voltage_v: float | None = None


def _root_law(film: float, low: float, high: float, bound: float, unit: str) -> Suggested:
    """V = M √film with one M up to the bound and another above it; never interpolated across the jump."""
    below, above = low * math.sqrt(film), high * math.sqrt(film)
    near = abs(film - bound) <= JUMP_NEARNESS * bound
    if film <= bound:
        return Suggested(
            voltage_v=below, branch=f"{low:g} × √{unit}, up to {bound:g} {unit}",
            other_branch_voltage_v=above if near else None,
        )  # fmt: skip
    return Suggested(
        voltage_v=above, branch=f"{high:g} × √{unit}, above {bound:g} {unit}",
        other_branch_voltage_v=below if near else None,
    )  # fmt: skip


def _gost(film_um: Fraction) -> Suggested:
    return _root_law(float(film_um / 1000), 3294, 7843, 1, "mm")


def _g62(film_um: Fraction) -> Suggested:
    return _root_law(float(film_um / UM_PER_MIL), 525, 1250, G62_BOUND_MIL, "mil")


def _sp0274(film_um: Fraction) -> Suggested:
    return Suggested(voltage_v=1250 * math.sqrt(film_um / UM_PER_MIL), branch="1250 × √mil, any thickness")


def _handbook(film_um: Fraction) -> Suggested:
    film_mil = film_um / UM_PER_MIL
    if film_mil <= HANDBOOK_LEAST_MIL:
        raise InputFault.at("dry_film_um", "MIL-HDBK-1110 gives 100 V per mil only above 20 mil (508 µm)")
    volts = HANDBOOK_VOLTS_PER_MIL * film_mil
    if volts > HANDBOOK_MOST_V:
        raise InputFault.at("dry_film_um", "MIL-HDBK-1110 goes up to 30 kV, which is 300 mil (7620 µm)")
    return Suggested(voltage_v=float(volts), branch="100 V per mil, above 20 mil")


def _sp0188(film_um: Fraction) -> Suggested:
    for row in SP0188_ROWS:
        if row.holds(film_um):
            return Suggested(voltage_v=row.voltage_v, branch=f"row {row}")
    first, last = SP0188_ROWS[0], SP0188_ROWS[-1]
    if film_um < first.from_um or film_um > last.to_um:
        reach = f"{first.from_mil} to {last.to_mil} mil ({first.from_um} to {last.to_um} µm)"
        raise InputFault.at("dry_film_um", f"the table reaches from {reach}")
    thinner, thicker = next((one, two) for one, two in pairwise(SP0188_ROWS) if one.to_um < film_um < two.from_um)
    raise InputFault.at(
        "dry_film_um",
        f"lies between the rows {thinner} and {thicker}; the table gives nothing there and is not interpolated: ask "
        "which row the specification means",
    )


RULES: dict[str, tuple[Callable[[Fraction], Suggested], str]] = {
    "M-sqrt-mm": (_gost, "GOST 34395-2018, Annex DB"),
    "ASTM G62": (_g62, "ASTM G62 (from memory)"),
    "NACE SP0274": (_sp0274, "NACE SP0274"),
    "MIL-HDBK-1110": (_handbook, "MIL-HDBK-1110, 10.3.13.2"),
    "NACE SP0188": (_sp0188, "NACE SP0188 (from memory)"),
}
EDITIONS = {"NACE SP0188": "2006"}
NOTES = {
    "NACE SP0188": "This is the table of 2006. The standard was revised in January 2024; its table is not known here: "
    "ask which edition the specification means.",
}


@dataclass(frozen=True, kw_only=True)
class VoltageIn:
    dry_film_um: Fraction = thickness("Dry film", above=0, maximum=25_400)
    standard: str = choice("Standard", tuple(RULES))
    dielectric_strength_kv_per_mm: Fraction | None = number(
        "Dielectric strength of the coating", unit="kV/mm", help="From the coating's maker.", above=0, maximum=500,
        optional=True,
    )  # fmt: skip
    thinnest_film_um: Fraction | None = thickness("Thinnest film found", above=0, optional=True)

    def __post_init__(self) -> None:
        if self.thinnest_film_um is not None and self.thinnest_film_um > self.dry_film_um:
            raise InputFault.at("thinnest_film_um", "must not be thicker than dry_film_um: the thinnest place decides "
                                                    "what the film bears")  # fmt: skip
        if self.thinnest_film_um is not None and self.dielectric_strength_kv_per_mm is None:
            raise InputFault.at("dielectric_strength_kv_per_mm", "is needed with thinnest_film_um")


@dataclass(frozen=True, kw_only=True)
class VoltageOut(Judged):
    voltage_v: float | None = result("Voltage the standard names", optional=True)
    branch: str = result("Branch of the rule")
    other_branch_voltage_v: float | None = result("The other branch, near the jump", unit="V", optional=True)
    most_the_film_bears_v: float | None = result("Most the thinnest film bears", optional=True)
    notes: tuple[str, ...] = result("Notes")
    caution: str = result("Caution")


@calculation(
    "holiday-voltage",
    title="Holiday test voltage",
    group="Tests",
    sources=(GOST, G62, SP0274, HANDBOOK, SP0188, DIELECTRIC),
    example={"dry_film_um": 1500, "standard": "NACE SP0274"},
    caution=CAUTION,
)
def holiday_voltage(inputs: VoltageIn) -> VoltageOut:
    """Voltage that a standard names for a dry film, with the branch or row used.

    Standards differ widely and the square-root rules jump (999 and 1001 µm differ by a factor 2.4): use the one the
    specification names. With the maker's dielectric strength, the voltage is checked against the thinnest film; where
    the film does not bear it, none is offered. The starting voltages of ASTM D5162, table 1, are not known here.
    """
    law, clause = RULES[inputs.standard]
    suggested = law(inputs.dry_film_um)
    bears = _bearable_v(inputs)
    checks = []
    if bears is not None:
        sentence = "The voltage the standard names must stay below dielectric strength times the thinnest film."
        passed = suggested.voltage_v < bears
        checks.append(Check("dielectric strength", "instrument handbook", sentence, bears, suggested.voltage_v, passed,
                            unit="V"))  # fmt: skip
    borne = judged(checks) == "pass"
    return VoltageOut(
        verdict=judged(checks) if checks else "not judged",
        rule=clause,
        edition=EDITIONS.get(inputs.standard, ""),
        checks=tuple(checks),
        voltage_v=suggested.voltage_v if borne else None,
        branch=suggested.branch,
        other_branch_voltage_v=suggested.other_branch_voltage_v if borne else None,
        most_the_film_bears_v=bears,
        notes=_voltage_notes(inputs, borne=borne),
        caution=CAUTION,
    )


def _voltage_notes(inputs: VoltageIn, *, borne: bool) -> tuple[str, ...]:
    notes = [NOTES[inputs.standard]] if inputs.standard in NOTES else []
    if not borne:
        notes.append("Do not test at this voltage: the film does not bear it. No voltage is offered; ask the coating's "
                     "maker and the specifier.")  # fmt: skip
    if inputs.dielectric_strength_kv_per_mm is not None and inputs.thinnest_film_um is None:
        notes.append("The thinnest film found was not given: what the film bears was reckoned with the film itself; "
                     "a thinner place bears less.")  # fmt: skip
    return tuple(notes)


def _bearable_v(inputs: VoltageIn) -> float | None:
    if inputs.dielectric_strength_kv_per_mm is None:
        return None
    thinnest = inputs.dry_film_um if inputs.thinnest_film_um is None else inputs.thinnest_film_um
    return float(inputs.dielectric_strength_kv_per_mm * thinnest)  # 1 kV/mm is 1 V/µm


@dataclass(frozen=True, kw_only=True)
class MethodIn:
    dry_film_um: Fraction = thickness("Dry film", above=0)


@dataclass(frozen=True, kw_only=True)
class MethodOut:
    method: str = result("Method")
    why: str = result("Why")
    caution: str = result("Caution")


WET_SPONGE_UP_TO_UM = 500
HIGH_BY_AGREEMENT_FROM_UM = 250
WETTING_AGENT_ABOVE_UM = 254


@calculation(
    "holiday-method",
    title="Holiday test method",
    group="Tests",
    sources=(D5162, WETTING),
    example={"dry_film_um": 400},
    caution=CAUTION,
)
def holiday_method(inputs: MethodIn) -> MethodOut:
    """Low-voltage wet sponge to 0.5 mm, high voltage above (ASTM D5162).

    The standard writes 0.5 mm (20 mil); 20 mil is 508 µm. Between the two figures the metric one is used.
    """
    film = inputs.dry_film_um
    if film > WET_SPONGE_UP_TO_UM:
        why = "The film is thicker than 0.5 mm."
        if film <= 20 * UM_PER_MIL:
            why += " At 20 mil (508 µm) or less the inch figure of the standard would still allow the wet sponge."
        return MethodOut(method="high voltage", why=why, caution=CAUTION)
    why = "The film is not thicker than 0.5 mm."
    if film >= HIGH_BY_AGREEMENT_FROM_UM:
        why += " From 0.25 mm high voltage may be used too, if calculated and agreed by the coating maker (D5162-21)."
    if film > WETTING_AGENT_ABOVE_UM:
        why += " Above 0.254 mm use a wetting agent (ASTM G62)."
    return MethodOut(method="low voltage", why=why, caution=SPONGE_CAUTION)
