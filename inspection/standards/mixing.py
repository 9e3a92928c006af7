"""Mixing of components: ratios by volume and by mass, amounts, whole kits, and what was really mixed."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.registry import (
    Check,
    InputFault,
    Judged,
    Source,
    calculation,
    choice,
    items,
    judged,
    number,
    result,
    text,
)

ARITHMETIC = Source("Arithmetic of mixing", "mass ratio = volume ratio × densities", "", "common practice, no source")
NO_PART_KITS = Source("UFGS 09971", "no partial kits, no altered ratio, no thinner to stretch pot life", "",
                      "stored source")  # fmt: skip
DATA_SHEET = Source("Data sheet of the product", "ratio, densities, kit and tolerance as declared", "",
                    "common practice, no source")  # fmt: skip
SOLVENTS = (
    "Vapours burn, explode and poison; isocyanates sensitise for life. Ventilate, keep ignition away, gloves and eye "
    "protection, and follow the safety data sheets."
)
BY_VOLUME, BY_MASS = "volume", "mass"


@dataclass(frozen=True, kw_only=True)
class Component:
    name: str = text("Component")
    parts: Fraction = number("Parts", above=0, maximum=100_000)
    density_kg_per_l: Fraction | None = number("Density", unit="kg/l", above=0, maximum=25, optional=True)


@dataclass(frozen=True, kw_only=True)
class RatioIn:
    components: tuple[Component, ...] = items("Components", Component, fewest=2, most=6)
    parts_by: str = choice("The parts are by", (BY_VOLUME, BY_MASS))
    mixed_litres: Fraction | None = number("Mixed paint wanted", unit="l", above=0, maximum=1_000_000, optional=True)
    kit_litres: Fraction | None = number("A whole kit gives", unit="l", above=0, maximum=100_000, optional=True)

    def __post_init__(self) -> None:
        refuse_repeated_names(self.components)
        if self.parts_by == BY_MASS and self.mixed_litres is not None and not _all_dense(self.components):
            raise InputFault.at("mixed_litres", "with parts by mass the density of every component is needed")
        if self.kit_litres is not None and self.mixed_litres is None:
            raise InputFault.at("mixed_litres", "is needed with kit_litres")


def refuse_repeated_names(components: tuple[Component, ...]) -> None:
    names = [component.name.strip() for component in components]
    for place, name in enumerate(names):
        if name in names[:place]:
            raise InputFault.at(f"components[{place}].name", f"{name} is named twice")


def _all_dense(components: tuple[Component, ...]) -> bool:
    return all(component.density_kg_per_l is not None for component in components)


@dataclass(frozen=True, kw_only=True)
class Amount:
    component: str
    litres: Fraction | None
    kg: Fraction | None


@dataclass(frozen=True, kw_only=True)
class RatioOut:
    ratio_by_volume: tuple[Fraction, ...] | None = result("Ratio by volume, last component 1", optional=True)
    ratio_by_mass: tuple[Fraction, ...] | None = result("Ratio by mass, last component 1", optional=True)
    amounts: tuple[Amount, ...] | None = result("Amounts", optional=True)
    density_kg_per_l: Fraction | None = result("Density of the mix", unit="kg/l", optional=True)
    kits: Fraction | None = result("Kits", optional=True)
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "mixing-ratio",
    title="Mixing ratio by volume and by mass, and amounts",
    group="Paint",
    sources=(ARITHMETIC, NO_PART_KITS, DATA_SHEET),
    example={
        "components": [{"name": "A base", "parts": 4, "density_kg_per_l": 1.5},
                       {"name": "B hardener", "parts": 1, "density_kg_per_l": 0.95}],
        "parts_by": "volume", "mixed_litres": 20, "kit_litres": 20,
    },
    caution="Mix whole kits: a guide specification forbids partial kits, and weighing them is for the paint maker to "
    "allow. A ratio by mass is not one by volume. " + SOLVENTS,
)  # fmt: skip
def mixing_ratio(inputs: RatioIn) -> RatioOut:
    """Ratio of the components by volume and by mass, and litres and kilograms of each for a wanted amount.

    Mass ratio = volume ratio × density (kg/l); the other ratio needs the density of every component. Volumes are taken
    to add up. Two to six components; parts above 0, densities to 25 kg/l.
    """
    parts = [component.parts for component in inputs.components]
    densities = [component.density_kg_per_l for component in inputs.components]
    volumes: list[Fraction] | None = parts if inputs.parts_by == BY_VOLUME else None
    masses: list[Fraction] | None = parts if inputs.parts_by == BY_MASS else None
    known = [density for density in densities if density is not None]
    if len(known) == len(parts):
        volumes = volumes or [part / density for part, density in zip(parts, known, strict=True)]
        masses = masses or [part * density for part, density in zip(parts, known, strict=True)]
    amounts = None
    if inputs.mixed_litres is not None and volumes is not None:
        litres = [inputs.mixed_litres * part / sum(volumes) for part in volumes]
        amounts = tuple(
            Amount(component=component.name, litres=amount, kg=None if density is None else amount * density)
            for component, amount, density in zip(inputs.components, litres, densities, strict=True)
        )
    return RatioOut(
        ratio_by_volume=_to_one(volumes),
        ratio_by_mass=_to_one(masses),
        amounts=amounts,
        density_kg_per_l=_mixed_density(volumes, known),
        kits=_kits(inputs),
        notes=tuple(_ratio_notes(inputs, volumes is not None and masses is not None)),
    )


def _to_one(parts: list[Fraction] | None) -> tuple[Fraction, ...] | None:
    return None if parts is None else tuple(part / parts[-1] for part in parts)


def _mixed_density(volumes: list[Fraction] | None, densities: list[Fraction]) -> Fraction | None:
    if volumes is None or len(volumes) != len(densities):
        return None
    return sum((v * d for v, d in zip(volumes, densities, strict=True)), Fraction(0)) / sum(volumes)


def _kits(inputs: RatioIn) -> Fraction | None:
    if inputs.kit_litres is None or inputs.mixed_litres is None:
        return None
    return inputs.mixed_litres / inputs.kit_litres


def _ratio_notes(inputs: RatioIn, both: bool) -> list[str]:
    notes = [] if both else ["The other ratio needs the density of every component."]
    kits = _kits(inputs)
    if kits is not None and kits.denominator != 1:
        notes.append("This is a part kit: a guide specification forbids it; ask the paint maker before weighing out.")
    return notes


@dataclass(frozen=True, kw_only=True)
class UsedComponent(Component):
    used: Fraction = number("Used", help="In litres or kilograms, as said below.", above=0, maximum=1_000_000)


@dataclass(frozen=True, kw_only=True)
class UsedIn:
    components: tuple[UsedComponent, ...] = items("Components", UsedComponent, fewest=2, most=6)
    parts_by: str = choice("The parts are by", (BY_VOLUME, BY_MASS))
    used_by: str = choice("Used was measured by", (BY_VOLUME, BY_MASS))
    tolerance_pct: Fraction | None = number(
        "Tolerance of the ratio", help="As the data sheet states it. Empty: not judged.", above=0, maximum=100,
        optional=True,
    )  # fmt: skip

    def __post_init__(self) -> None:
        refuse_repeated_names(self.components)
        if self.parts_by != self.used_by and not _all_dense(self.components):
            raise InputFault.at("used_by", "differs from parts_by: the density of every component is needed")


@dataclass(frozen=True, kw_only=True)
class Deviation:
    component: str
    wanted: Fraction
    used: Fraction
    deviation_pct: Fraction


@dataclass(frozen=True, kw_only=True)
class UsedOut(Judged):
    ratio_used: tuple[Fraction, ...] = result("Ratio used, last component 1")
    ratio_wanted: tuple[Fraction, ...] = result("Ratio wanted, last component 1")
    components: tuple[Deviation, ...] = result("Each against the first component")


@calculation(
    "mixing-check",
    title="What was mixed against the mixing ratio",
    group="Paint",
    sources=(ARITHMETIC, NO_PART_KITS, DATA_SHEET),
    example={
        "components": [{"name": "A base", "parts": 4, "density_kg_per_l": 1.5, "used": 12},
                       {"name": "B hardener", "parts": 1, "density_kg_per_l": 0.95, "used": 2.1}],
        "parts_by": "volume", "used_by": "mass", "tolerance_pct": 5,
    },
    caution="A wrong ratio may never cure, whatever the film measures: keep the place marked and ask the paint maker. "
    + SOLVENTS,
)  # fmt: skip
def mixing_check(inputs: UsedIn) -> UsedOut:
    """How far each component used lies from what the ratio asks for the first component, in percent of that.

    Litres are weighed against a ratio by mass, or kilograms against one by volume, through the densities (kg/l). The
    tolerance is the data sheet's, inclusive; without one nothing is judged.
    """
    wanted_parts = [_as_measured(component, component.parts, inputs) for component in inputs.components]
    first = inputs.components[0].used / wanted_parts[0]
    deviations = tuple(
        Deviation(component=component.name, wanted=part * first, used=component.used,
                  deviation_pct=100 * (component.used / (part * first) - 1))
        for component, part in zip(inputs.components, wanted_parts, strict=True)
    )  # fmt: skip
    checks: tuple[Check, ...] = ()
    if inputs.tolerance_pct is not None:
        off = tuple(i for i, one in enumerate(deviations) if abs(one.deviation_pct) > inputs.tolerance_pct)
        farthest = max((abs(one.deviation_pct) for one in deviations), default=Fraction(0))
        sentence = "No component may be further from the ratio than the data sheet tolerates."
        checks = (Check("mixing ratio", "data sheet", sentence, inputs.tolerance_pct, farthest, not off, off, "%",
                        "component"),)  # fmt: skip
    used = [component.used for component in inputs.components]
    return UsedOut(
        verdict=judged(checks) if checks else "not judged",
        rule="mixing ratio of the data sheet",
        edition="",
        checks=checks,
        ratio_used=tuple(amount / used[-1] for amount in used),
        ratio_wanted=tuple(part / wanted_parts[-1] for part in wanted_parts),
        components=deviations,
    )


def _as_measured(component: Component, part: Fraction, inputs: UsedIn) -> Fraction:
    """A part of the ratio in the measure in which the use was measured."""
    if inputs.parts_by == inputs.used_by or component.density_kg_per_l is None:
        return part
    return part * component.density_kg_per_l if inputs.used_by == BY_MASS else part / component.density_kg_per_l
