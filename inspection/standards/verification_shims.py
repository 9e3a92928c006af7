"""Shims: stacked, and chosen for adjusting a gauge."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.registry import (
    InputFault,
    Source,
    calculation,
    choice,
    flag,
    number,
    result,
    thickness,
    thicknesses,
)
from inspection.standards.thickness import total
from inspection.standards.verification import SQUARES_ADD

SMOOTH, BLASTED = "smooth", "blasted"
ZERO, ONE_POINT, TWO_POINT = "zero", "one-point", "two-point"

FAR_PCT = 50
FAR = Source("A shim further than half the expected thickness away is far off", provenance="common practice, no source")
METHODS = Source("ASTM D7091", "", "zero, one-point and two-point adjustment", "from memory")
NEAR = Source("MIL-HDBK-1110", "", "the shim matches the expected thickness", "stored source")
SUBTRACT = Source("ISO 19840", "2012", "clause 7, correction values after adjusting on smooth steel", "stored source")


@dataclass(frozen=True)
class StackInputs:
    shims_um: tuple[Fraction, ...] = thicknesses("Thickness of each shim", most=20)
    expanded_uncertainty_um: tuple[Fraction, ...] = thicknesses("Expanded uncertainty of each shim", most=20)
    coverage_factor: Fraction = number("Coverage factor of all of them", default=2, above=0, maximum=10)

    def __post_init__(self) -> None:
        if len(self.shims_um) != len(self.expanded_uncertainty_um):
            raise InputFault.at("expanded_uncertainty_um", "give one uncertainty for each shim")


@dataclass(frozen=True)
class StackOutputs:
    stack_um: Fraction = result("Thickness of the stack")
    expanded_uncertainty_um: float = result("Expanded uncertainty, independent shims")
    correlated_uncertainty_um: Fraction = result("Expanded uncertainty, shims measured against one standard")
    standard_uncertainty_um: float = result("Standard uncertainty, independent shims")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "shim-stack",
    title="Stacked shims",
    group="Verification",
    sources=(SQUARES_ADD,),
    caution="Air between the foils is not in this figure. Use as few shims as possible, clean and flat.",
    example={"shims_um": [250, 50], "expanded_uncertainty_um": [2.5, 1]},
)
def shim_stack(inputs: StackInputs) -> StackOutputs:
    """Thicknesses add; independent uncertainties add in squares, correlated ones plainly."""
    independent = math.sqrt(sum(u * u for u in inputs.expanded_uncertainty_um))
    return StackOutputs(
        stack_um=total(inputs.shims_um),
        expanded_uncertainty_um=independent,
        correlated_uncertainty_um=total(inputs.expanded_uncertainty_um),
        standard_uncertainty_um=independent / float(inputs.coverage_factor),
        notes=("If the shims were measured against one standard, the plain sum is the safe value.",),
    )


@dataclass(frozen=True)
class ChooseInputs:
    target_um: Fraction = thickness("Expected thickness", above=0)
    surface: str = choice("Steel under the coating", (SMOOTH, BLASTED))
    profile_known: bool = flag("The prepared bare surface is at hand, or a piece of the same preparation", default=True)
    shims_um: tuple[Fraction, ...] = thicknesses("Shims available", most=1000)


@dataclass(frozen=True)
class ChooseOutputs:
    method: str = result("Method of adjustment")
    adjust_on: str = result("Adjust on")
    shims_um: tuple[Fraction, ...] = result("Shims to use")
    verify_with_um: Fraction = result("Shim to verify with, nearest to the expected thickness")
    subtract_correction: bool = result("Subtract a profile correction value from the readings")
    far_off_um: tuple[Fraction, ...] = result("Shims to use that lie far off")
    why: tuple[str, ...] = result("Why")


@calculation(
    "choose-shims",
    title="Method of adjustment and shims",
    group="Verification",
    sources=(METHODS, NEAR, SUBTRACT, FAR),
    caution="The maker's instructions govern. Pull-off (type 1) gauges are not adjusted: take a base metal reading.",
    example={"target_um": 240, "surface": "blasted", "profile_known": True, "shims_um": [50, 125, 250, 500]},
)
def choose_shims(inputs: ChooseInputs) -> ChooseOutputs:
    """Which adjustment suits the surface, and with which of the shims at hand.

    A shim further away than half the expected thickness (own figure) is named as far off: it says little of the gauge
    where the readings will lie.
    """
    shims = sorted(shim for shim in set(inputs.shims_um) if shim)
    below = max((shim for shim in shims if shim < inputs.target_um), default=None)
    above = min((shim for shim in shims if shim >= inputs.target_um), default=None)
    if inputs.surface == SMOOTH:
        method, used, why = ZERO, _known(above or below), ["Smooth steel: set zero on it, then check on the shim."]
    elif not inputs.profile_known:
        method, used = ZERO, _known(above or below)
        why = ["The blasted profile is not at hand: set zero on smooth steel, check on the shim,",
               "and subtract the correction value for the profile from every reading."]  # fmt: skip
    elif below is not None and above is not None:
        method, used = TWO_POINT, (below, above)
        why = ["One shim below and one above on the prepared steel: the expected thickness lies between them."]
    else:
        method, used = ONE_POINT, _known(above or below)
        why = ["One shim on the prepared steel, close to and above the expected thickness."]
    if above is None:
        why.append("No shim reaches the expected thickness; stack shims or get a thicker one.")
    verify_with = _nearest(shims, inputs.target_um)
    far_off = tuple(shim for shim in used if _is_far(shim, inputs.target_um))
    if _is_far(verify_with, inputs.target_um):
        why.append("Even the nearest shim lies far off the expected thickness: a check on it says little of the gauge "
                   "there. Get one near it before measuring.")  # fmt: skip
    elif far_off:
        why.append(
            "A shim that adjusts lies far off the expected thickness: check on the nearest one before measuring."
        )
    smooth_adjustment = method == ZERO
    return ChooseOutputs(
        method=method,
        adjust_on="smooth uncoated steel" if smooth_adjustment else "the prepared uncoated steel",
        shims_um=used,
        verify_with_um=verify_with,
        subtract_correction=inputs.surface == BLASTED and smooth_adjustment,
        far_off_um=far_off,
        why=tuple(why),
    )


def _known(shim: Fraction | None) -> tuple[Fraction, ...]:
    if not shim:
        raise InputFault.at("shims_um", "give at least one shim thicker than 0")
    return (shim,)


def _is_far(shim: Fraction, target: Fraction) -> bool:
    return abs(shim - target) > target * FAR_PCT / 100


def _nearest(shims: Sequence[Fraction], target: Fraction) -> Fraction:
    return min(shims, key=lambda shim: (abs(shim - target), -shim))
