"""The probability that an area conforms, in words: on the page of a record and in the API, alike."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from inspection.fieldwork.conformance import Conformance
from inspection.foundation.units import Unit, with_unit
from inspection.standards.area_conformance import SETTLED

NO_VERDICT = (
    "No verdict: the rule compares what was measured with its limits. This holds if scatter stays as measured and the "
    "spots were chosen without looking for good or bad places."
)


@dataclass(frozen=True)
class PartShown:
    name: str
    evaluation: str
    u: str
    share_pct: int


@dataclass(frozen=True)
class ConformanceShown:
    """Sentences, what went into them, and what limits them."""

    sentences: tuple[str, ...]
    parts: tuple[PartShown, ...]
    facts: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]


def conformance_shown(found: Conformance, unit: Unit | str) -> ConformanceShown:
    """All that is told of it, thicknesses in the unit."""
    parts = found.parts
    whole = math.fsum(part.standard_uncertainty_um**2 for part in parts)
    return ConformanceShown(
        sentences=tuple(_sentences(found, unit)),
        parts=tuple(
            PartShown(part.name, part.evaluation, _um(part.standard_uncertainty_um, unit, small=True),
                      round(100 * part.standard_uncertainty_um**2 / whole) if whole else 0)
            for part in parts
        ),
        facts=(
            ("Mean, corrected", _um(found.told.film.mean, unit)),
            ("Error of the gauge corrected for", _um(found.gauge.error, unit)),
            ("Scatter from spot to spot", _um(found.told.film.scatter, unit)),
            ("Spots", str(found.told.film.count)),
            ("Checks on standards", str(found.checks)),
            ("Standard uncertainty of the mean", _um(math.sqrt(whole), unit, small=True)),
        ),
        notes=(*found.notes, NO_VERDICT),
    )  # fmt: skip


def _sentences(found: Conformance, unit: Unit | str) -> list[str]:
    told, limits = found.told, found.limits
    said = []
    if told.mean_conforms is not None:
        said.append(
            f"If scatter stays as measured, the mean of the area is {_between(limits, unit)} with a probability of "
            f"{percent(told.mean_conforms)}.{_more(told.more_spots_for_mean, told.mean_conforms)}"
        )
    if limits.share_limit is not None and told.expected_share is not None and told.share_up_to is not None:
        said.append(
            f"Of the surface {percent(told.expected_share)} is to be expected below "
            f"{_um(limits.share_limit, unit)}; with a probability of {percent(SETTLED)} no more than "
            f"{_at_most(told.share_up_to)}."
        )
    if told.share_conforms is not None and limits.share is not None:
        said.append(
            f"That no more than {percent(limits.share)} of it lies below has a probability of "
            f"{percent(told.share_conforms)}.{_more(told.more_spots_for_share, told.share_conforms)}"
        )
    return said


def _between(limits: Any, unit: Unit | str) -> str:
    lower, upper = limits.mean_lower, limits.mean_upper
    if upper is None:
        return f"at least {_um(lower, unit)}"
    return f"at most {_um(upper, unit)}" if lower is None else f"from {_um(lower, unit)} to {_um(upper, unit)}"


def _more(spots: int | None, probability: float) -> str:
    if not spots:
        return ""
    way = "above 95 %" if probability > 1 / 2 else "below 5 %"
    return f" {spots} more spot{'' if spots == 1 else 's'} like these would settle it, {way}."


def percent(share: float) -> str:
    """A share from 0 to 1 as whole per cent; what is nearly none or nearly all never looks as if it were."""
    if share < 0.01:
        return "less than 1 %" if share > 0 else "0 %"
    if share > 0.99:
        return "more than 99 %" if share < 1 else "100 %"
    return f"{100 * share:.0f} %"


def _at_most(share: float) -> str:
    """A bound from above as whole per cent, rounded away from what it promises; it may be all of the surface."""
    return f"{max(1, math.ceil(round(100 * share, 6)))} %"


def _um(value: float, unit: Unit | str, *, small: bool = False) -> str:
    nm = value * 1000
    if small and Unit(unit) is Unit.UM:
        return f"{value:.2f} {Unit.UM.label}"
    return with_unit(nm, unit)


def conformance_data(found: Conformance | None, unit: Unit | str) -> dict[str, Any]:
    """The same as numbers, thicknesses in µm, with the sentences beside them; every figure None where there is none."""
    if found is None:
        return dict.fromkeys(FIGURES) | {"budget": [], "sentences": [], "notes": [NO_VERDICT]}
    told, limits = found.told, found.limits
    shown = conformance_shown(found, unit)
    figures = (
        told.film.mean, told.film.scatter, told.film.count, found.gauge.error,
        math.hypot(told.sampling_u, found.gauge.u),
        limits.mean_lower, limits.mean_upper, told.mean_conforms, told.more_spots_for_mean, limits.share_limit,
        _percent(limits.share), _percent(told.expected_share), _percent(told.share_up_to), told.share_conforms,
        told.more_spots_for_share,
    )  # fmt: skip
    parts = [{"name": part.name, "evaluation": part.evaluation, "standard_uncertainty_um": part.standard_uncertainty_um}
             for part in found.parts]  # fmt: skip
    return dict(zip(FIGURES, figures, strict=True)) | {
        "budget": parts, "sentences": list(shown.sentences), "notes": list(shown.notes)
    }  # fmt: skip


FIGURES = (
    "mean_um", "spot_scatter_um", "spots", "gauge_error_um", "standard_uncertainty_um", "mean_minimum_um",
    "mean_maximum_um", "probability_mean_conforms", "more_spots_for_mean", "share_limit_um", "share_allowed_pct",
    "expected_share_below_pct", "share_below_up_to_pct", "probability_share_conforms", "more_spots_for_share",
)  # fmt: skip


def _percent(share: float | None) -> float | None:
    return None if share is None else 100 * share
