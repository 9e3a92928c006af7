"""What a holiday test found: holidays on the m² tested, and whether the test itself could find one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.holiday import CAUTION, RULES, SPONGE_CAUTION, VoltageIn, holiday_voltage
from inspection.standards.holiday_high import DeclaredIn, holiday_declared_voltage
from inspection.standards.holiday_sponge import D5162, DOCUMENTS, UNDER_75_V, SpongeIn, holiday_sponge
from inspection.standards.registry import (
    Check,
    InputFault,
    Judged,
    Source,
    calculation,
    choice,
    flag,
    number,
    result,
    thickness,
)
from inspection.standards.units import shown

CONTRACT = Source("Contract", "holidays allowed on a m², none unless it says so", "", "common practice, no source")
VOLTMETER = Source("Holiday detector", "voltmeter within 5 % of what is set", "", "from memory")
SPEED = Source("Practice of pipe coating", "electrode at about 0.3 m/s", "", "stored source")
WETTING = Source("ASTM G62", "wetting agent from 0.254 to 0.508 mm", "method A", "stored source")

DECLARED = "declared by the specification"
HIGH_STANDARDS = (*RULES, DECLARED)
MOST_OFF = Fraction(5, 100)
FASTEST_M_PER_S = Fraction(3, 10)


@dataclass(frozen=True, kw_only=True)
class FoundOut(Judged):
    per_m2: Fraction = result("Holidays on a m²", unit="per m²")
    named_v: float | None = result("Voltage the standard names", optional=True)
    notes: tuple[str, ...] = result("Notes")


@dataclass(frozen=True, kw_only=True)
class SpongeFoundIn:
    dry_film_um: Fraction = thickness("Dry film", above=0, maximum=25_400)
    standard: str = choice("Standard", tuple(DOCUMENTS))
    voltage_v: Fraction = number("Voltage of the device", above=0, maximum=100)
    as_specified: bool = flag(
        "The specification, or your own copy of the standard, names this voltage for this film", default=False
    )
    wetting_agent: bool = flag("A wetting agent was in the water", default=False)
    earth_proven: bool = flag("Earth and device were proven on a bare place first", default=False)
    holidays: int = number("Holidays found", minimum=0, maximum=100_000)
    tested_m2: Fraction = number("Area tested", above=0, maximum=10_000_000)
    most_per_m2: Fraction = number("Holidays allowed on a m²", unit="per m²", minimum=0, maximum=1000, default=0)


@calculation(
    "holiday-sponge-found",
    title="Holidays found with a wet sponge",
    group="Tests",
    sources=(CONTRACT, D5162, UNDER_75_V, WETTING),
    example={"dry_film_um": 300, "standard": "ASTM D5162", "voltage_v": 67.5, "wetting_agent": True,
             "earth_proven": True, "holidays": 1, "tested_m2": 40},
    caution=SPONGE_CAUTION,
)  # fmt: skip
def holiday_sponge_found(inputs: SpongeFoundIn) -> FoundOut:
    """Holidays on the m² tested against what the contract allows, where the sponge could find them.

    More than allowed fails whatever else is said. Otherwise the test is judged only where the document reaches the
    film, its voltage was kept, a wetting agent was used above 254 µm and the earth was proven.
    """
    method = holiday_sponge(
        SpongeIn(dry_film_um=inputs.dry_film_um, standard=inputs.standard, voltage_v=inputs.voltage_v)
    )
    reasons = []
    if method.verdict == "fail" or (method.verdict != "pass" and not inputs.as_specified):
        reasons.append("the sponge test of this document is not known to reach this film with this voltage")
    if method.wetting_agent and not inputs.wetting_agent:
        reasons.append("above 0.254 mm a wetting agent is needed")
    return _found(inputs, method.checks, reasons, method.notes, None, method.rule)


@dataclass(frozen=True, kw_only=True)
class HighFoundIn:
    dry_film_um: Fraction = thickness("Dry film", above=0, maximum=25_400)
    thinnest_film_um: Fraction | None = thickness("Thinnest film found", above=0, optional=True)
    standard: str = choice("Standard", HIGH_STANDARDS)
    dielectric_strength_kv_per_mm: Fraction | None = number(
        "Dielectric strength of the coating", unit="kV/mm", help="From the coating's maker.", above=0, maximum=500,
        optional=True,
    )  # fmt: skip
    voltage_v: Fraction = number("Voltage set", above=0, maximum=40_000)
    voltmeter_v: Fraction | None = number("Voltage that a voltmeter showed", above=0, maximum=50_000, optional=True)
    earth_proven: bool = flag("Earth and device were proven on a bare place first", default=False)
    holidays: int = number("Holidays found", minimum=0, maximum=100_000)
    tested_m2: Fraction = number("Area tested", above=0, maximum=10_000_000)
    most_per_m2: Fraction = number("Holidays allowed on a m²", unit="per m²", minimum=0, maximum=1000, default=0)

    def __post_init__(self) -> None:
        if self.thinnest_film_um is not None and self.thinnest_film_um > self.dry_film_um:
            raise InputFault.at("thinnest_film_um", "must not be thicker than dry_film_um")


@calculation(
    "holiday-high-found",
    title="Holidays found at high voltage",
    group="Tests",
    sources=(CONTRACT, VOLTMETER, SPEED),
    example={"dry_film_um": 1500, "standard": "NACE SP0274", "voltage_v": 9600, "voltmeter_v": 9500,
             "earth_proven": True, "holidays": 0, "tested_m2": 25},
    caution=CAUTION,
)  # fmt: skip
def holiday_high_found(inputs: HighFoundIn) -> FoundOut:
    """Holidays on the m² tested against what the contract allows, where the voltage was that of the standard.

    More than allowed fails whatever else is said. Otherwise the test is judged only where the voltage is within 5 % of
    what the standard names for the film (tolerance from memory), the film bears it, a voltmeter agreed within 5 %
    (from memory) and the earth was proven. A standard that names nothing for a film leaves the test not judged.
    """
    if inputs.standard == DECLARED:
        checks, notes, named, reasons = _declared(inputs)
    else:
        checks, notes, named, reasons = _named(inputs)
    if inputs.voltmeter_v is None:
        reasons.append("no voltmeter reading says what the detector gave")
    else:
        sentence = "A voltmeter must show within 5 % of what is set."
        passed = abs(inputs.voltmeter_v - inputs.voltage_v) <= MOST_OFF * inputs.voltage_v
        checks.append(Check("voltmeter", "from memory", sentence, inputs.voltage_v, inputs.voltmeter_v, passed,
                            unit="V", counted_in="device"))  # fmt: skip
    return _found(inputs, checks, reasons, notes, named, inputs.standard)


Basis = tuple[list[Check], tuple[str, ...], float | None, list[str]]


def _named(inputs: HighFoundIn) -> Basis:
    try:
        found = holiday_voltage(VoltageIn(
            dry_film_um=inputs.dry_film_um, standard=inputs.standard,
            dielectric_strength_kv_per_mm=inputs.dielectric_strength_kv_per_mm,
            thinnest_film_um=inputs.thinnest_film_um if inputs.dielectric_strength_kv_per_mm else None,
        ))  # fmt: skip
    except InputFault as unnamed:
        said = "; ".join(fault.message for fault in unnamed.faults)
        return [], (), None, [f"{inputs.standard} names no voltage for this film ({said})"]
    if found.voltage_v is None:
        return list(found.checks), found.notes, None, []
    sentence = "The voltage set must be within 5 % of what the standard names for the film."
    off = abs(float(inputs.voltage_v) - found.voltage_v)
    kept = Check("voltage of the standard", found.rule, sentence, found.voltage_v, inputs.voltage_v,
                 off <= float(MOST_OFF) * found.voltage_v, unit="V", counted_in="device")  # fmt: skip
    return [*found.checks, kept], found.notes, found.voltage_v, []


def _declared(inputs: HighFoundIn) -> Basis:
    found = holiday_declared_voltage(DeclaredIn(
        voltage_v=inputs.voltage_v, thinnest_film_um=inputs.thinnest_film_um or inputs.dry_film_um,
        thickest_film_um=inputs.dry_film_um, dielectric_strength_kv_per_mm=inputs.dielectric_strength_kv_per_mm,
    ))  # fmt: skip
    return list(found.checks), found.notes, None, []


def _found(
    inputs: SpongeFoundIn | HighFoundIn, method: Sequence[Check], reasons: list[str], notes: Sequence[str],
    named: float | None, rule: str,
) -> FoundOut:  # fmt: skip
    """Too many fail for good; none is worth nothing where the test could not find any."""
    per_m2 = inputs.holidays / inputs.tested_m2
    sentence = "No more holidays on a m² than the contract allows."
    counted = Check("holidays", "contract", sentence, inputs.most_per_m2, per_m2, per_m2 <= inputs.most_per_m2,
                    unit="per m²", counted_in="holiday", decides_alone=True)  # fmt: skip
    if not inputs.earth_proven:
        reasons = [*reasons, "earth and device were not proven on a bare place"]
    reasons = [*reasons, *(check.sentence for check in method if check.passed is False)]
    verdict = "fail" if not counted.passed else "not judged" if reasons else "pass"
    why = (f"That no more was found shows nothing: {'; '.join(reason.rstrip('.') for reason in reasons)}.",)
    return FoundOut(
        verdict=verdict, rule=rule, edition="", checks=(counted, *method), per_m2=per_m2, named_v=named,
        notes=(*(why if reasons else ()), *notes),
    )  # fmt: skip


def speed_doubt(m_per_s: Fraction) -> str:
    """That the electrode or sponge was moved faster than 0.3 m/s (stored source, pipe practice); empty where not."""
    if m_per_s <= FASTEST_M_PER_S:
        return ""
    return f"Moved at {shown(m_per_s, 2)} m/s: above about 0.3 m/s holidays are missed (practice of pipe coating)."
