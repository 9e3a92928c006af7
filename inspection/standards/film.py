"""Film arithmetic: wet and dry film, coverage, loss, and what the paint used says of the mean thickness."""

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
    judged,
    number,
    result,
    thickness,
)
from inspection.standards.units import UM_PER_MIL

WET_DRY = Source("Paint maker's sheet", "wet and dry film with thinner, with examples", "", "stored source")
COVERAGE = Source("Paint maker's sheet", "10 VS / DFT m²/l, 1604 VS / DFT ft²/gal, examples", "", "stored source")
SHARE = Source("Paint maker's page", "litres / (1 - loss), with example", "", "stored source")
SURCHARGE = Source("Surcharge on theory", "litres × (1 + loss)", "", "common practice, no source")
WET_IS_GUIDE = Source("MIL-HDBK-1110 / UFC 3-190-06", "wet film readings guide, never accept", "", "stored source")

HUNDRED = 100
FT2_MIL_PER_GAL = 1604  # the trade's rounded constant; 231 in³ over 0.001 in is 1604.17
MORE_THAN_USED = (
    "More film was measured than the paint used can have left, which would mean that less than nothing was lost: see "
    "litres used, area, volume solids, the profile under the readings and the gauge."
)
SHARE_OF_USE, ON_TOP = "share", "surcharge"


@dataclass(frozen=True, kw_only=True)
class WetFilmIn:
    dry_film_um: Fraction | None = thickness("Dry film", above=0, optional=True)
    wet_film_um: Fraction | None = thickness("Wet film", above=0, optional=True)
    volume_solids_pct: Fraction = number("Volume solids", above=0, maximum=100)
    thinner_pct: Fraction = number(
        "Thinner added", help="Percent by volume of the unthinned paint.", minimum=0, maximum=200, default=0
    )

    def __post_init__(self) -> None:
        if (self.dry_film_um is None) == (self.wet_film_um is None):
            raise InputFault.at("dry_film_um", "give one of dry_film_um and wet_film_um")


@dataclass(frozen=True, kw_only=True)
class WetFilmOut:
    wet_film_um: Fraction = result("Wet film")
    dry_film_um: Fraction = result("Dry film")


@calculation(
    "wet-film",
    title="Wet and dry film",
    group="Film",
    sources=(WET_DRY, WET_IS_GUIDE),
    example={"dry_film_um": 80, "volume_solids_pct": 65, "thinner_pct": 10},
    caution="A wet film reading guides the painter; it never accepts a coat.",
)
def wet_film(inputs: WetFilmIn) -> WetFilmOut:
    """Wet film that dries to a film, or the reverse: wet = dry × (1 + thinner) / volume solids."""
    wet_per_dry = (1 + inputs.thinner_pct / HUNDRED) / (inputs.volume_solids_pct / HUNDRED)
    if inputs.dry_film_um is not None:
        return WetFilmOut(wet_film_um=inputs.dry_film_um * wet_per_dry, dry_film_um=inputs.dry_film_um)
    wet = inputs.wet_film_um or Fraction(0)
    return WetFilmOut(wet_film_um=wet, dry_film_um=wet / wet_per_dry)


def kept_share(loss_pct: Fraction, meaning: str) -> Fraction:
    """Part of the paint used that ends on the surface, by the two meanings of loss.

    share: of 100 l used, loss l never arrive. surcharge: for 100 l that arrive, loss l more are used.
    Raises InputFault for a share of 100 % or more.
    """
    loss = loss_pct / HUNDRED
    if meaning == ON_TOP:
        return 1 / (1 + loss)
    if loss >= 1:
        raise InputFault.at("loss_pct", "a share of the paint used must be below 100 %")
    return 1 - loss


@dataclass(frozen=True, kw_only=True)
class LossIn:
    loss_pct: Fraction = number("Loss", minimum=0, maximum=1000, default=0)
    loss_meaning: str = choice(
        "Loss is", (SHARE_OF_USE, ON_TOP), help="A share of the paint used, or a surcharge on theory.",
        default=SHARE_OF_USE,
    )  # fmt: skip

    def __post_init__(self) -> None:
        kept_share(self.loss_pct, self.loss_meaning)


@dataclass(frozen=True, kw_only=True)
class CoverageIn(LossIn):
    dry_film_um: Fraction = thickness("Dry film", above=0)
    volume_solids_pct: Fraction = number("Volume solids", above=0, maximum=100)
    area_m2: Fraction | None = number("Area", above=0, maximum=10_000_000, optional=True)


@dataclass(frozen=True, kw_only=True)
class CoverageOut:
    theoretical_m2_per_l: Fraction = result("Theoretical coverage", unit="m²/l")
    practical_m2_per_l: Fraction = result("Practical coverage", unit="m²/l")
    theoretical_ft2_per_gal: Fraction = result("Theoretical coverage", unit="ft²/gal")
    litres: Fraction | None = result("Paint needed", unit="l", optional=True)


@calculation(
    "coverage",
    title="Coverage and paint needed",
    group="Film",
    sources=(COVERAGE, SHARE, SURCHARGE),
    example={"dry_film_um": 125, "volume_solids_pct": 65, "area_m2": 100, "loss_pct": 30},
    caution="Two meanings of loss are in use: 30 % as a share needs 43 % more paint, as a surcharge 30 % more. "
    "A rough profile takes extra paint that no formula here counts.",
)
def coverage(inputs: CoverageIn) -> CoverageOut:
    """Area a litre of unthinned paint covers, in theory (10 × VS % / DFT) and with loss; litres for an area."""
    theoretical = _m2_per_l(inputs.volume_solids_pct, inputs.dry_film_um)
    practical = theoretical * kept_share(inputs.loss_pct, inputs.loss_meaning)
    mil = inputs.dry_film_um / UM_PER_MIL
    return CoverageOut(
        theoretical_m2_per_l=theoretical,
        practical_m2_per_l=practical,
        theoretical_ft2_per_gal=FT2_MIL_PER_GAL * inputs.volume_solids_pct / HUNDRED / mil,
        litres=None if inputs.area_m2 is None else inputs.area_m2 / practical,
    )


def _m2_per_l(volume_solids_pct: Fraction, dry_film_um: Fraction) -> Fraction:
    return 10 * volume_solids_pct / dry_film_um


@dataclass(frozen=True, kw_only=True)
class ConsumptionIn(LossIn):
    area_m2: Fraction = number("Area painted", above=0, maximum=10_000_000)
    volume_solids_pct: Fraction = number("Volume solids", above=0, maximum=100)
    dry_film_um: Fraction = thickness("Specified dry film", above=0)
    used_litres: Fraction = number("Paint used, unthinned", unit="l", above=0, maximum=100_000_000)
    measured_mean_um: Fraction | None = thickness("Mean dry film measured", above=0, optional=True)


@dataclass(frozen=True, kw_only=True)
class ConsumptionOut(Judged):
    expected_litres: Fraction = result("Paint expected", unit="l")
    used_pct_of_expected: Fraction = result("Used, of expected", unit="%")
    implied_mean_um: Fraction = result("Mean dry film this implies")
    greatest_mean_um: Fraction = result("Mean dry film if nothing were lost")
    implied_loss_pct: Fraction | None = result("Loss implied by the measured mean (share of use)", optional=True)
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "paint-consumption",
    title="Paint used against paint expected",
    group="Film",
    sources=(COVERAGE, SHARE, SURCHARGE),
    example={"area_m2": 250, "volume_solids_pct": 65, "dry_film_um": 125, "used_litres": 64, "loss_pct": 30},
    caution="A hint, not an acceptance: a right mean hides thin and thick places. Measure the film.",
)
def paint_consumption(inputs: ConsumptionIn) -> ConsumptionOut:
    """Litres expected for an area, and the mean dry film that the litres really used can have left on it.

    The second check needs no assumption on loss: with too little paint even loss-free work cannot reach the film. Where
    more film was measured than the paint used holds, less than nothing would have been lost: no loss is told then.
    """
    kept = kept_share(inputs.loss_pct, inputs.loss_meaning)
    expected = inputs.area_m2 / (_m2_per_l(inputs.volume_solids_pct, inputs.dry_film_um) * kept)
    greatest = 10 * inputs.volume_solids_pct * inputs.used_litres / inputs.area_m2
    checks = (
        _reaches("mean film at the stated loss", greatest * kept, inputs.dry_film_um),
        _reaches("mean film without any loss", greatest, inputs.dry_film_um),
    )
    measured = inputs.measured_mean_um
    too_much = measured is not None and measured > greatest
    return ConsumptionOut(
        verdict=judged(checks),
        rule="litres used must be able to give the specified mean film",
        edition="",
        checks=checks,
        expected_litres=expected,
        used_pct_of_expected=HUNDRED * inputs.used_litres / expected,
        implied_mean_um=greatest * kept,
        greatest_mean_um=greatest,
        implied_loss_pct=None if measured is None or too_much else HUNDRED * (1 - measured / greatest),
        notes=(MORE_THAN_USED,) if too_much else (),
    )


def _reaches(name: str, mean: Fraction, specified: Fraction) -> Check:
    sentence = "The paint used must be enough for the specified dry film as a mean over the area."
    return Check(name, "film arithmetic", sentence, specified, mean, mean >= specified, unit="um", counted_in="area")
