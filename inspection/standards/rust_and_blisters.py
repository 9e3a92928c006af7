"""Aged coatings: rust by its area (ASTM D610, ISO 4628-3), and defect ratings read as they are written."""

from __future__ import annotations

import re
from bisect import bisect_left
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.registry import (
    Check,
    InputFault,
    Judged,
    Source,
    calculation,
    choice,
    exact,
    judged,
    number,
    result,
    text,
)

D610 = Source("ASTM D610", "2008 (2012), grades 10 to 0 and types S, G, P, H", "table", "stored source")
RI = Source("ISO 4628-3", "share of rust on the pictures Ri 0 to Ri 5", "coating consultancy's page", "stored source")
ISO_4628_2 = Source("ISO 4628-2", "2016, pictures of sizes 2 to 5; size 1 only at ×10", "", "stored source")
ISO_4628_1 = Source("ISO 4628-1", "quantities 0 to 5, sizes 0 to 5, notation 2(S3)", "", "from memory")
D714 = Source("ASTM D714", "sizes 10, 8, 6, 4, 2; frequencies F, M, MD, D", "", "stored source")

AGED_ONLY = "For aged film in surveys and guarantees, never for fresh paint. Stain is not rust. "
WRITTEN_WINS = "The written definition beats the picture in a dispute."

# ASTM D610: the greatest share of rust in each grade, 10 downwards; the border belongs to the grade.
D610_BORDERS_PCT = tuple(exact(share) for share in (0.01, 0.03, 0.1, 0.3, 1.0, 3, 10, 16, 33, 50))
D610_TYPES = {"S": "spot rusting", "G": "general rusting", "P": "pinpoint rusting", "H": "hybrid rusting"}
# ISO 4628-3: the share on each picture; Ri 5 is 40 to 50 %.
RI_PICTURES_PCT = tuple(exact(share) for share in (0, 0.05, 0.5, 1, 8, 40))
RI_5_MOST_PCT = 50

ISO_SIZES = (
    "not visible at ×10", "visible only at ×10", "just visible", "clearly visible, to 0.5 mm", "0.5 to 5 mm",
    "larger than 5 mm",
)  # fmt: skip
D714_SIZES = (10, 8, 6, 4, 2)
D714_FREQUENCIES = {"F": "few", "M": "medium", "MD": "medium dense", "D": "dense"}


@dataclass(frozen=True, kw_only=True)
class RustIn:
    rusted_pct: Fraction = number("Area rusted", minimum=0, maximum=100)
    type_of_rusting: str = choice(
        "Type of rusting", ("none", *D610_TYPES), help="S spot, G general, P pinpoint, H hybrid; none for 10 and 0.",
        default="none",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class RustOut:
    astm_d610: str = result("ASTM D610")
    iso_4628_3: str = result("ISO 4628-3")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "rust-grade",
    title="Degree of rusting from the area rusted",
    group="Condition",
    sources=(D610, RI),
    example={"rusted_pct": 4, "type_of_rusting": "S"},
    caution=AGED_ONLY + WRITTEN_WINS + " Neither scale is for creep from a scribe. The two are never converted.",
)
def rust_grade(inputs: RustIn) -> RustOut:
    """Rust grade of ASTM D610 from the share of the area that is rusted, and where that share lies in ISO 4628-3.

    Shares 0 to 100 %. In D610 the upper border belongs to its grade. The Ri of ISO 4628-3 are pictures and no
    intervals: between two of them both are named and a person chooses. Correlations of the two disagree, so none is
    drawn.
    """
    grade = 10 - bisect_left(D610_BORDERS_PCT, inputs.rusted_pct)
    kind = inputs.type_of_rusting
    if kind != "none" and grade in (10, 0):
        raise InputFault.at("type_of_rusting", f"grade {grade} has no type of rusting: choose none")
    notes = () if kind != "none" or grade in (10, 0) else ("ASTM D610 asks for the type too: S, G, P or H.",)
    return RustOut(
        astm_d610=str(grade) if kind == "none" else f"{grade}-{kind}",
        iso_4628_3=_nearest_pictures(inputs.rusted_pct),
        notes=notes,
    )


def _nearest_pictures(share: Fraction) -> str:
    if share > RI_5_MOST_PCT:
        return "more than the picture Ri 5 shows (40 to 50 %)"
    if share >= RI_PICTURES_PCT[-1]:
        return "Ri 5"
    above = bisect_left(RI_PICTURES_PCT, share)
    if RI_PICTURES_PCT[above] == share:
        return f"Ri {above}"
    return f"between the pictures Ri {above - 1} and Ri {above}: a person chooses"


@dataclass(frozen=True)
class Rating:
    """A rating as read: its scale, how bad it is in each part (larger is worse), and in words."""

    scale: str
    badness: tuple[int, ...]
    words: str


PATTERNS = {
    "ISO 4628": re.compile(r"(?P<quantity>\d) ?\( ?S ?(?P<size>\d) ?\)"),
    "ISO 4628-3": re.compile(r"Ri ?(?P<picture>\d)"),
    "ASTM D714": re.compile(r"(?P<size>\d+) ?(?P<frequency>MD|F|M|D)?"),
    "ASTM D610": re.compile(r"(?P<grade>\d+)(?: ?- ?(?P<type>[SGPH]))?"),
}


def _quantity_and_size(found: re.Match[str]) -> Rating:
    quantity, size = int(found["quantity"]), int(found["size"])
    if max(quantity, size) > 5:
        raise ValueError("quantity and size go from 0 to 5")
    if (quantity == 0) != (size == 0):
        raise ValueError("nothing there is written 0(S0); otherwise neither part is 0")
    return Rating("ISO 4628", (quantity, size), f"quantity {quantity} of 5, size {size}: {ISO_SIZES[size]}")


def _picture(found: re.Match[str]) -> Rating:
    picture = int(found["picture"])
    if picture > 5:
        raise ValueError("the pictures go from Ri 0 to Ri 5")
    share = "40 to 50" if picture == 5 else str(float(RI_PICTURES_PCT[picture])).removesuffix(".0")
    return Rating("ISO 4628-3", (picture,), f"as the picture of {share} % rust")


def _blisters(found: re.Match[str]) -> Rating:
    size, frequency = int(found["size"]), found["frequency"]
    if size not in D714_SIZES:
        raise ValueError("blister sizes of ASTM D714 are 10, 8, 6, 4 and 2")
    if (size == 10) != (frequency is None):
        raise ValueError("size 10 is no blistering and has no frequency; every other size needs F, M, MD or D")
    if frequency is None:
        return Rating("ASTM D714", (0, 0), "no blistering")
    order = list(D714_FREQUENCIES).index(frequency) + 1
    return Rating("ASTM D714", (D714_SIZES.index(size), order), f"size {size}, {D714_FREQUENCIES[frequency]}")


def _rust(found: re.Match[str]) -> Rating:
    grade, kind = int(found["grade"]), found["type"]
    if grade > 10:
        raise ValueError("the grades of ASTM D610 go from 10 to 0")
    if kind and grade in (10, 0):
        raise ValueError(f"grade {grade} has no type of rusting")
    most = "over 50" if grade == 0 else f"to {str(float(D610_BORDERS_PCT[10 - grade])).removesuffix('.0')}"
    return Rating("ASTM D610", (10 - grade,), f"{most} % rusted" + (f", {D610_TYPES[kind]}" if kind else ""))


READERS = {"ISO 4628": _quantity_and_size, "ISO 4628-3": _picture, "ASTM D714": _blisters, "ASTM D610": _rust}
EXAMPLES = {"ISO 4628": "3(S2)", "ISO 4628-3": "Ri3", "ASTM D714": "6MD", "ASTM D610": "6-S"}


def read_rating(scale: str, written: str, field: str) -> Rating:
    found = PATTERNS[scale].fullmatch(written.strip())
    try:
        if not found:
            raise ValueError(f"a rating of {scale} is written like {EXAMPLES[scale]}")
        return READERS[scale](found)
    except ValueError as wrong:
        raise InputFault.at(field, str(wrong)) from None


DEFECTS = {
    "blistering": ("ISO 4628", "ASTM D714"),
    "rusting": ("ISO 4628-3", "ASTM D610"),
    "cracking": ("ISO 4628",),
    "flaking": ("ISO 4628",),
}
PARTS = {"blistering": "ISO 4628-2", "cracking": "ISO 4628-4", "flaking": "ISO 4628-5"}


@dataclass(frozen=True, kw_only=True)
class DefectIn:
    defect: str = choice("Defect", tuple(DEFECTS))
    scale: str = choice("Scale", tuple(EXAMPLES), help="ISO 4628 is that of its parts 2, 4 and 5.")
    rating: str = text("Rating", help="As written: 3(S2), Ri3, 6MD or 6-S.")
    worst_allowed: str | None = text(
        "Worst rating allowed", help="By the specification, on the same scale. Empty: not judged.", optional=True
    )

    def __post_init__(self) -> None:
        if self.scale not in DEFECTS[self.defect]:
            raise InputFault.at("scale", f"{self.defect} is rated by {' or '.join(DEFECTS[self.defect])}")


@dataclass(frozen=True, kw_only=True)
class DefectOut(Judged):
    means: str = result("Which means")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "defect-rating",
    title="Rating of blisters, rust, cracks or flaking against what is allowed",
    group="Condition",
    sources=(ISO_4628_1, ISO_4628_2, RI, D714, D610),
    example={"defect": "blistering", "scale": "ISO 4628", "rating": "2(S3)", "worst_allowed": "2(S2)"},
    caution=AGED_ONLY + WRITTEN_WINS + " Scales run opposite ways and are never converted: keep scale and edition "
    "with the rating. The sizes of ISO 4628 are those of its part 1, from memory; parts 4 and 5 were not seen.",
)
def defect_rating(inputs: DefectIn) -> DefectOut:
    """Read a rating as it is written and, if the specification allows a worst one, judge each part of it.

    ISO 4628 quantity(Ssize) from 0(S0) to 5(S5) for blistering, cracking and flaking; Ri 0 to Ri 5 and ASTM D610 grades
    10 to 0 for rusting; ASTM D714 size with frequency for blistering. Both quantity (or frequency) and size must be
    no worse than allowed. Types of rusting are not compared. A rating that a scale does not hold is refused.
    """
    found = read_rating(inputs.scale, inputs.rating, "rating")
    checks: tuple[Check, ...] = ()
    if inputs.worst_allowed is not None:
        allowed = read_rating(inputs.scale, inputs.worst_allowed, "worst_allowed")
        worse = any(one > most for one, most in zip(found.badness, allowed.badness, strict=True))
        sentence = "No part of the rating may be worse than the specification allows."
        checks = (Check("worst rating allowed", "specification", sentence, inputs.worst_allowed.strip(),
                        inputs.rating.strip(), not worse, counted_in="area"),)  # fmt: skip
    part = PARTS.get(inputs.defect) if inputs.scale == "ISO 4628" else None
    return DefectOut(
        verdict=judged(checks) if checks else "not judged",
        rule=part or inputs.scale,
        edition="",
        checks=checks,
        means=found.words,
        notes=("Where sizes differ, the typical size is quoted (ISO 4628-2:2016).",) if part == "ISO 4628-2" else (),
    )
