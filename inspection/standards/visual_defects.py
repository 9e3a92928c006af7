"""Visual defects of a coat as somebody saw them, each acceptable or not by whoever looked."""

from __future__ import annotations

import re
from dataclasses import dataclass

from inspection.standards.registry import (
    Check,
    InputFault,
    Judged,
    Source,
    calculation,
    choice,
    exact,
    flag,
    items,
    judged,
    result,
    text,
)
from inspection.standards.rust_and_blisters import ISO_4628_1, ISO_4628_2, RI, read_rating

PRACTICE = Source("Visual inspection of a coat", "kinds of defects; whoever looked decides", "",
                  "common practice, no source")  # fmt: skip

KINDS = (
    "runs", "sags", "dry spray", "pinholes", "cissing", "cracking", "misses", "inclusions", "orange peel", "blushing",
    "wrinkling", "blistering", "rusting", "flaking", "delamination", "mechanical damage", "contamination", "other",
)  # fmt: skip
RATED = {"blistering": "ISO 4628", "cracking": "ISO 4628", "flaking": "ISO 4628", "rusting": "ISO 4628-3"}
PLAIN = re.compile(r"(?P<figure>\d+(?:[.,]\d+)?) ?(?P<unit>%|m2|m²|pcs|pieces)?")
UNITS = {None: "pieces", "pcs": "pieces", "pieces": "pieces", "%": "%", "m2": "m²", "m²": "m²"}
NO_ONE_SAW = "Looked at over the whole of the area; nothing was found."


@dataclass(frozen=True, kw_only=True)
class Defect:
    kind: str = choice("Kind", KINDS)
    place: str = text("Place")
    extent: str = text("Extent", help="A number of pieces, 2 %, 0.4 m², or on an aged film a rating: 2(S3), Ri 3.")
    acceptable: bool = flag("Acceptable to whoever looked")

    def __post_init__(self) -> None:
        extent_told(self.kind, self.extent)


def extent_told(kind: str, extent: str) -> str:
    """The extent in words: pieces, per cent of the area, m², or a rating of ISO 4628. Raises InputFault."""
    if found := PLAIN.fullmatch(extent.strip()):
        figure, unit = exact(float(found["figure"].replace(",", "."))), UNITS[found["unit"]]
        if figure <= 0 or (unit == "%" and figure > 100) or (unit == "pieces" and figure.denominator != 1):
            raise InputFault.at("extent", "give whole pieces from 1, above 0 and at most 100 %, or m² above 0")
        return f"{found['figure']} {unit}"
    if kind not in RATED:
        raise InputFault.at("extent", "write a number of pieces, 2 %, or 0.4 m²")
    return f"{extent.strip()} ({read_rating(RATED[kind], extent, 'extent').words})"


@dataclass(frozen=True, kw_only=True)
class DefectsIn:
    defects: tuple[Defect, ...] = items("Defects", Defect, most=1000, fewest=0)


@dataclass(frozen=True, kw_only=True)
class DefectsOut(Judged):
    not_acceptable: int = result("Not acceptable")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "visual-defects",
    title="Visual defects, acceptable or not",
    group="Tests",
    sources=(PRACTICE, ISO_4628_1, ISO_4628_2, RI),
    example={"defects": [{"kind": "runs", "place": "frame 12", "extent": "3", "acceptable": False}]},
    caution="Ratings of ISO 4628 are for aged film, never for fresh paint. Whoever looked decides; this only counts.",
)
def visual_defects(inputs: DefectsIn) -> DefectsOut:
    """Whether everything found is acceptable to whoever looked; extents are read and never judged.

    Extent in pieces, % of the area, m², or a rating of ISO 4628-2 to -5 as it is written.
    """
    bad = tuple(i for i, defect in enumerate(inputs.defects) if not defect.acceptable)
    check = Check("acceptable", "whoever looked", "Everything found is acceptable to whoever looked.", 0, len(bad),
                  not bad, bad, counted_in="defect")  # fmt: skip
    aged = any(not PLAIN.fullmatch(defect.extent.strip()) for defect in inputs.defects)
    notes = ("A rating of ISO 4628 is for aged film, never for fresh paint.",) if aged else ()
    return DefectsOut(
        verdict=judged([check]), rule="As seen", edition="", checks=(check,), not_acceptable=len(bad),
        notes=(*notes, *(() if inputs.defects else (NO_ONE_SAW,))),
    )  # fmt: skip
