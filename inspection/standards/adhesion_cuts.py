"""Cut tests rated on one of four scales, never converted: ISO 2409, ISO 16276-2 X-cut, ASTM D3359 methods A and B."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.adhesion import ASTM_CLASSES, ISO_2409_REST, ISO_2409_UP_TO_UM, iso_spacing_mm
from inspection.standards.adhesion import D3359 as D3359_B
from inspection.standards.adhesion import ISO_2409 as ISO_2409_TEXT
from inspection.standards.adhesion_x_cut import ASTM, BEST_FIRST, D3359_RECALLED, D3359_SEEN, ISO, ISO_RECALLED
from inspection.standards.registry import (
    Check,
    Fault,
    InputFault,
    Judged,
    Source,
    calculation,
    choice,
    flag,
    items,
    judged,
    number,
    result,
    text,
    thickness,
)

ISO_2409, D3359_LATTICE = "ISO 2409", "ASTM D3359 method B"
SCALES: dict[str, tuple[str, ...]] = {
    ISO_2409: ("0", "1", "2", "3", "4", "5"), ISO: BEST_FIRST[ISO], ASTM: BEST_FIRST[ASTM],
    D3359_LATTICE: ASTM_CLASSES,
}  # fmt: skip
SPACING_B = Source("ASTM D3359", "method B: 1 mm to 50 µm, 2 mm to 125 µm, wider only if agreed", "", "stored source")
NO_LIMIT = "No worst rating of the contract was given, so nothing was judged."


@dataclass(frozen=True, kw_only=True)
class RatedCut:
    place: str | None = text("Place", optional=True)
    rating: str = text("Rating", help="As the scale writes it: 0 to 5, 5A to 0A or 5B to 0B.")


@dataclass(frozen=True, kw_only=True)
class CutsIn:
    scale: str = choice("Scale", tuple(SCALES))
    cuts: tuple[RatedCut, ...] = items("Cuts", RatedCut, most=1000)
    worst_rating: str | None = text("Worst rating allowed", help="By the contract, on the same scale.", optional=True)
    cuts_wanted: int = number("Cuts the contract asks for", minimum=1, maximum=100_000, default=1)
    dry_film_um: Fraction = thickness("Total dry film", above=0, maximum=25_400)
    spacing_mm: Fraction | None = number("Spacing of the cuts", above=0, maximum=20, optional=True)
    spacing_agreed: bool = flag("The parties agreed on this spacing", default=False)
    substrate: str = choice("Substrate", ("hard", "soft"), default="hard")
    textured: bool = flag("The film is textured", default=False)

    def __post_init__(self) -> None:
        known = SCALES[self.scale]
        wrong = f"is no rating of {self.scale}: {', '.join(known)}; scales are never converted"
        faults = [
            Fault(f"cuts[{index}].rating", f"{cut.rating} {wrong}")
            for index, cut in enumerate(self.cuts) if cut.rating not in known
        ]  # fmt: skip
        if self.worst_rating is not None and self.worst_rating not in known:
            faults.append(Fault("worst_rating", f"{self.worst_rating} {wrong}"))
        if self.scale in (ISO_2409, D3359_LATTICE) and self.spacing_mm is None:
            faults.append(Fault("spacing_mm", "is needed for a lattice"))
        if faults:
            raise InputFault(faults)


@dataclass(frozen=True, kw_only=True)
class CutsOut(Judged):
    worst: str = result("Worst rating found")
    spacing_of_standard_mm: int | None = result("Spacing of the standard", unit="mm", optional=True)
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "adhesion-cut-ratings",
    title="Adhesion by cuts, rated on one scale",
    group="Tests",
    sources=(ISO_2409_TEXT, ISO_2409_REST, D3359_B, SPACING_B, D3359_SEEN, D3359_RECALLED, ISO_RECALLED),
    example={"scale": ISO_2409, "cuts": [{"place": "web", "rating": "1"}, {"place": "flange", "rating": "0"}],
             "worst_rating": "1", "cuts_wanted": 2, "dry_film_um": 180, "spacing_mm": 3},
    caution="Destructive: repair the place. Sharp blades: cut away from the hand. Scales run opposite ways and are "
    "never converted: keep scale and edition with every rating.",
)  # fmt: skip
def adhesion_cut_ratings(inputs: CutsIn) -> CutsOut:
    """The worst of the ratings against the worst that the contract allows, on one scale.

    A worse one fails. A lattice is not judged outside its standard: ISO 2409 above 250 µm or on a textured film, or
    with another spacing than by thickness, unless the parties agreed on it. Films in µm, spacing in mm.
    """
    order = SCALES[inputs.scale]
    found = [cut.rating for cut in inputs.cuts]
    worst = max(found, key=order.index)
    spacing = _spacing(inputs)
    reasons = _reasons(inputs, spacing)
    checks = []
    if inputs.worst_rating is not None:
        allowed = order.index(inputs.worst_rating)
        beyond = tuple(i for i, name in enumerate(found) if order.index(name) > allowed)
        nearest = tuple(i for i, name in enumerate(found) if name == worst)
        checks.append(
            Check("worst rating", "contract", "No cut is rated worse than the contract allows.", inputs.worst_rating,
                  worst, not beyond, beyond or nearest, "", "cut")
        )  # fmt: skip
    else:
        reasons = [NO_LIMIT, *reasons]
    few = len(found) < inputs.cuts_wanted
    verdict = "not judged" if reasons else "incomplete" if few and judged(checks) == "pass" else judged(checks)
    missing = [f"{len(found)} of {inputs.cuts_wanted} cuts are made."] if few else []
    return CutsOut(
        verdict=verdict, rule=inputs.scale, edition="", checks=tuple(checks), worst=worst,
        spacing_of_standard_mm=spacing, notes=(*reasons, *missing),
    )  # fmt: skip


def _spacing(inputs: CutsIn) -> int | None:
    """By thickness: ISO 2409 1, 2 or 3 mm (from memory); ASTM D3359 B 1 mm to 50 µm and 2 mm to 125 µm (stored)."""
    if inputs.scale == ISO_2409:
        return iso_spacing_mm(inputs.dry_film_um, inputs.substrate)
    if inputs.scale == D3359_LATTICE and inputs.dry_film_um <= 125:
        return 1 if inputs.dry_film_um <= 50 else 2
    return None


def _reasons(inputs: CutsIn, spacing: int | None) -> list[str]:
    """Why the standard does not let the cuts be judged."""
    reasons = []
    if inputs.scale == ISO_2409 and inputs.dry_film_um > ISO_2409_UP_TO_UM:
        reasons.append("Not judged: ISO 2409 ends at a film of 250 µm in all; an X-cut suits this one.")
    if inputs.scale == ISO_2409 and inputs.textured:
        reasons.append("Not judged: ISO 2409 is not for textured films.")
    if inputs.scale in (ISO_2409, D3359_LATTICE) and not reasons and not inputs.spacing_agreed:
        if spacing is None:
            reasons.append("Not judged: above 125 µm ASTM D3359 B asks for a wider spacing agreed by the parties.")
        elif inputs.spacing_mm != spacing:
            reasons.append(f"Not judged: the standard cuts this film {spacing} mm apart.")
    return reasons
