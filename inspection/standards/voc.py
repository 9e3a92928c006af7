"""Volatile organic compounds as applied: with water and exempt compounds in the volume, and without them."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.mixing import SOLVENTS
from inspection.standards.registry import (
    Check,
    InputFault,
    Judged,
    Source,
    calculation,
    choice,
    exact,
    items,
    judged,
    number,
    result,
    text,
)

REGULATORY = Source("US air district's page", "less water and exempt compounds; whole volume", "", "stored source")
FROM_PERCENT = Source("Expert's page on VOC", "from percents by mass; water 8.33 lb/gal", "", "stored source")
EU = Source("Directive 2004/42/EC", "with 2010/79/EU: g/l ready for use, nothing subtracted", "", "stored source")
MIXTURE = Source("Metal finishing handbook", "mixture by volume, thinner to a limit, examples", "", "stored source")

WITH_WATER, LESS_WATER = "with water and exempt compounds", "less water and exempt compounds"
G_PER_L_IN_LB_PER_GAL = exact(119.826427)
CAUTION = (
    "The law of the place says which figure counts and how it is measured; a test by heating can give more than this "
    "arithmetic (cure drives off more), so keep a margin. " + SOLVENTS
)


@dataclass(frozen=True, kw_only=True)
class ContentIn:
    density_kg_per_l: Fraction = number("Density of the paint", unit="kg/l", above=0, maximum=25)
    solids_pct: Fraction = number("Solids, by mass", minimum=0, maximum=100)
    water_pct: Fraction = number("Water, by mass", minimum=0, maximum=100, default=0)
    exempt_pct: Fraction = number("Exempt compounds, by mass", minimum=0, maximum=100, default=0)
    exempt_density_kg_per_l: Fraction | None = number(
        "Density of the exempt compounds", unit="kg/l", above=0, maximum=25, optional=True
    )
    water_density_kg_per_l: Fraction = number(
        "Density of water", unit="kg/l", help="0.998, 0.997 and 0.995 are in use.", minimum=Fraction(9, 10),
        maximum=1, default=Fraction(998, 1000),
    )  # fmt: skip

    def __post_init__(self) -> None:
        if self.solids_pct + self.water_pct + self.exempt_pct > 100:
            raise InputFault.at("solids_pct", "solids, water and exempt compounds are more than 100 % together")
        if self.exempt_pct and self.exempt_density_kg_per_l is None:
            raise InputFault.at("exempt_density_kg_per_l", "is needed with exempt_pct")
        if self.left_volume <= 0:
            raise InputFault.at("water_pct", "leaves no volume beside water and exempt compounds")

    @property
    def left_volume(self) -> Fraction:
        """Litres beside water and exempt compounds in a litre of paint."""
        taken = self.water_pct / self.water_density_kg_per_l
        if self.exempt_density_kg_per_l is not None:
            taken += self.exempt_pct / self.exempt_density_kg_per_l
        return 1 - self.density_kg_per_l * taken / 100


@dataclass(frozen=True, kw_only=True)
class ContentOut:
    with_water_g_per_l: Fraction = result("VOC of the whole paint", unit="g/l")
    less_water_g_per_l: Fraction = result("VOC less water and exempt compounds", unit="g/l")
    with_water_lb_per_gal: Fraction = result("VOC of the whole paint", unit="lb/gal (US)")
    less_water_lb_per_gal: Fraction = result("VOC less water and exempt compounds", unit="lb/gal (US)")
    water_density_kg_per_l: Fraction = result("With water of", unit="kg/l")


@calculation(
    "voc-content",
    title="VOC from solids, water and density",
    group="Paint",
    sources=(FROM_PERCENT, REGULATORY),
    example={"density_kg_per_l": 1.021, "solids_pct": 20.8, "water_pct": 53},
    caution=CAUTION,
)
def voc_content(inputs: ContentIn) -> ContentOut:
    """VOC of a paint from its percents by mass and its density, by both formulas, in g/l and lb/gal.

    Mass of organic volatiles per litre of paint, and per litre of paint less its water and exempt compounds. Percents
    by mass 0 to 100, densities in kg/l. Without water and exempt compounds the two agree.
    """
    volatile = 100 - inputs.solids_pct - inputs.water_pct - inputs.exempt_pct
    whole = 1000 * inputs.density_kg_per_l * volatile / 100
    less = whole / inputs.left_volume
    return ContentOut(
        with_water_g_per_l=whole,
        less_water_g_per_l=less,
        with_water_lb_per_gal=whole / G_PER_L_IN_LB_PER_GAL,
        less_water_lb_per_gal=less / G_PER_L_IN_LB_PER_GAL,
        water_density_kg_per_l=inputs.water_density_kg_per_l,
    )


@dataclass(frozen=True, kw_only=True)
class Poured:
    name: str = text("Component or thinner")
    litres: Fraction = number("Amount", unit="l", above=0, maximum=1_000_000)
    voc_g_per_l: Fraction = number("VOC of its whole volume", unit="g/l", minimum=0, maximum=2000)
    water_litres: Fraction = number("Water and exempt compounds in it", unit="l", minimum=0, maximum=1_000_000,
                                    default=0)  # fmt: skip

    def __post_init__(self) -> None:
        if self.water_litres > self.litres:
            raise InputFault.at("water_litres", "must not be more than litres")


@dataclass(frozen=True, kw_only=True)
class AppliedIn:
    poured: tuple[Poured, ...] = items("What was mixed, thinner among it", Poured, most=20)
    limit_g_per_l: Fraction | None = number("Limit", unit="g/l", above=0, maximum=2000, optional=True)
    limit_is: str | None = choice("The limit is", (WITH_WATER, LESS_WATER), optional=True)
    thinner_voc_g_per_l: Fraction | None = number(
        "VOC of a thinner to add", unit="g/l", help="To learn how much keeps to the limit.", above=0, maximum=2000,
        optional=True,
    )  # fmt: skip

    def __post_init__(self) -> None:
        if (self.limit_g_per_l is None) != (self.limit_is is None):
            raise InputFault.at("limit_is", "limit_g_per_l and limit_is belong together")
        if self.thinner_voc_g_per_l is not None and self.limit_g_per_l is None:
            raise InputFault.at("limit_g_per_l", "is needed with thinner_voc_g_per_l")
        if sum(one.litres - one.water_litres for one in self.poured) <= 0:
            raise InputFault.at("poured", "there is nothing but water and exempt compounds in the mix")


@dataclass(frozen=True, kw_only=True)
class AppliedOut(Judged):
    with_water_g_per_l: Fraction = result("VOC as applied, whole volume", unit="g/l")
    less_water_g_per_l: Fraction = result("VOC as applied, less water and exempt compounds", unit="g/l")
    with_water_lb_per_gal: Fraction = result("VOC as applied, whole volume", unit="lb/gal (US)")
    less_water_lb_per_gal: Fraction = result("VOC as applied, less water and exempt", unit="lb/gal (US)")
    most_thinner_litres: Fraction | None = result("Thinner that may be added at most", unit="l", optional=True)
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "voc-as-applied",
    title="VOC as applied, after mixing and thinning",
    group="Paint",
    sources=(MIXTURE, REGULATORY, EU),
    example={
        "poured": [{"name": "paint", "litres": 20, "voc_g_per_l": 340},
                   {"name": "thinner", "litres": 2, "voc_g_per_l": 870}],
        "limit_g_per_l": 420, "limit_is": WITH_WATER,
    },
    caution=CAUTION,
)  # fmt: skip
def voc_as_applied(inputs: AppliedIn) -> AppliedOut:
    """VOC of what is really sprayed, from litres and VOC of each component and thinner, by both formulas.

    Whole volume (European ready-for-use value, US actual value): Σ(V·VOC)/ΣV. Less water and exempt compounds (US
    regulatory value): the same mass over ΣV without them. Amounts in litres, VOC in g per litre of the component's
    whole volume. With a limit and a thinner: y = (V·L − mass)/(VOC of thinner − L), V in the limit's own volume.
    The limit is inclusive. Volumes are taken to add up.
    """
    mass = sum((one.litres * one.voc_g_per_l for one in inputs.poured), Fraction(0))
    whole = sum((one.litres for one in inputs.poured), Fraction(0))
    less = whole - sum((one.water_litres for one in inputs.poured), Fraction(0))
    checks: tuple[Check, ...] = ()
    limit, thinner, most, notes = inputs.limit_g_per_l, inputs.thinner_voc_g_per_l, None, []
    if limit is not None:
        volume = whole if inputs.limit_is == WITH_WATER else less
        sentence = f"The VOC as applied, {inputs.limit_is}, must not be above the limit."
        checks = (Check("VOC limit", "limit declared", sentence, limit, mass / volume, mass / volume <= limit,
                        unit="g/l", counted_in="mix"),)  # fmt: skip
        if thinner is not None and thinner > limit:
            most = max(Fraction(0), (volume * limit - mass) / (thinner - limit))
        elif thinner is not None:
            notes.append("This thinner holds no more VOC than the limit: no amount of it breaks the limit.")
    return AppliedOut(
        verdict=judged(checks) if checks else "not judged",
        rule="limit declared" if checks else "no limit declared",
        edition="",
        checks=checks,
        with_water_g_per_l=mass / whole,
        less_water_g_per_l=mass / less,
        with_water_lb_per_gal=mass / whole / G_PER_L_IN_LB_PER_GAL,
        less_water_lb_per_gal=mass / less / G_PER_L_IN_LB_PER_GAL,
        most_thinner_litres=most,
        notes=tuple(notes),
    )
