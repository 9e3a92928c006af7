"""Cleanliness of prepared steel: the grade found beside the grade asked for, each as written and none converted."""

from __future__ import annotations

import re
from dataclasses import dataclass

from inspection.standards.registry import Check, InputFault, Judged, Source, calculation, judged, result, text

ISO_1 = Source("ISO 8501-1", "Sa 1 to Sa 3, St 2 and St 3, Fl", "names and order of the grades", "stored source")
ISO_2 = Source("ISO 8501-2", "the same with P before them, P Ma for machine abrading", "", "from memory")
ISO_4 = Source("ISO 8501-4", "Wa 1, Wa 2, Wa 2½", "names and order of the grades", "stored source")
SSPC = Source("SSPC / NACE", "white, near-white, commercial, industrial, brush-off", "order of the grades",
              "stored source")  # fmt: skip
INDUSTRIAL = Source("SSPC-SP 14 / NACE No. 8", "lies between brush-off and commercial", "", "from memory")
TOOLS = Source("SSPC-SP 15 and SP 11", "partial texts of 2012: stains may stay, bare metal", "", "stored source")
JETTING = Source("SSPC-SP WJ-1 to WJ-4", "study cards", "percent of a unit area", "stored source")
WET = Source("SSPC WAB", "2015: WAB-1, 2, 3, 8, 4 as SP 5, 10, 6, 14, 7", "", "stored source")
AS_WRITTEN = Source("no grade of one scheme is held to one of another", "", "", "common practice, no source")

# Each scale from the least clean to the cleanest. Grades of two scales are never compared, near as they may lie.
SCALES: dict[str, tuple[str, ...]] = {
    "ISO 8501-1, blast cleaning": ("Sa 1", "Sa 2", "Sa 2½", "Sa 3"),
    "ISO 8501-1, hand and power tools": ("St 2", "St 3"),
    "ISO 8501-1, flame cleaning": ("Fl",),
    "ISO 8501-2, blast cleaning": ("P Sa 2", "P Sa 2½", "P Sa 3"),
    "ISO 8501-2, hand and power tools": ("P St 2", "P St 3"),
    "ISO 8501-2, machine abrading": ("P Ma",),
    "ISO 8501-4, water jetting": ("Wa 1", "Wa 2", "Wa 2½"),
    "SSPC, dry blasting": ("SSPC-SP 7", "SSPC-SP 14", "SSPC-SP 6", "SSPC-SP 10", "SSPC-SP 5"),
    "NACE, dry blasting": ("NACE No. 4", "NACE No. 8", "NACE No. 3", "NACE No. 2", "NACE No. 1"),
    "SSPC, power tools to bare metal": ("SSPC-SP 15", "SSPC-SP 11"),
    "SSPC, hand tools": ("SSPC-SP 2",),
    "SSPC, power tools": ("SSPC-SP 3",),
    "SSPC, metals other than carbon steel": ("SSPC-SP 16", "SSPC-SP 17"),
    "SSPC, water jetting": ("WJ-4", "WJ-3", "WJ-2", "WJ-1"),
    "SSPC, wet abrasive blasting": ("WAB-4", "WAB-8", "WAB-3", "WAB-2", "WAB-1"),
}
# How a scheme's grades begin, in the one way they are compared by; another grade that begins so is no grade of it.
BEGINNINGS = ("sa", "st", "psa", "pst", "pma", "wa", "sp", "no", "wj", "wab")


# Said beside a grade without being part of it.
BESIDE = re.compile(r"\(.*?\)|\b(sspc|nace|ampp)\b|\biso\s*8501-\d\b|\bor better\b|\bat least\b|\bmin(imum|\.)?(?=\s)")


def in_one_way(written: str) -> str:
    """`SSPC-SP10`, `sp 10` and `SSPC-SP 10` alike, `Sa 2.5` and `Sa 2 1/2` as `Sa 2½`; for comparing only."""
    plain = written.casefold().replace("1/2", "½").replace("2.5", "2½").replace("2,5", "2½")
    return re.sub(r"[^0-9a-z½/]", "", BESIDE.sub("", plain))


Place = tuple[str, int]
PLACES: dict[str, Place] = {
    in_one_way(grade): (scale, rank) for scale, grades in SCALES.items() for rank, grade in enumerate(grades)
}


def places_of(written: str) -> dict[str, int]:
    """The scales of a grade as written and its place on each: one, or two of a joint standard; empty when unknown.

    Raises ValueError for what begins like the grades of a scheme and is none of them.
    """
    parts = in_one_way(written).split("/")
    if all(part in PLACES for part in parts):
        return dict(PLACES[part] for part in parts)
    begun = re.match(r"([a-z]+)[\d½]", parts[0])
    if begun and begun[1] in BEGINNINGS:
        known = [grade for grades in SCALES.values() for grade in grades if in_one_way(grade).startswith(begun[1])]
        raise ValueError(f"“{written[:40]}” is no grade of its scheme; known here: {', '.join(known)}")
    return {}


@dataclass(frozen=True, kw_only=True)
class CleanlinessIn:
    wanted: str = text("Grade asked for", help="As the specification writes it, such as Sa 2½.")
    found: str = text("Grade found", help="As it was assessed, in the scheme of the specification.")

    def __post_init__(self) -> None:
        for name in ("wanted", "found"):
            try:
                places_of(getattr(self, name))
            except ValueError as wrong:
                raise InputFault.at(name, str(wrong)) from None


@dataclass(frozen=True, kw_only=True)
class CleanlinessOut(Judged):
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "cleanliness-grade",
    title="Cleanliness found against the grade asked for",
    group="Surface",
    sources=(ISO_1, ISO_2, ISO_4, SSPC, INDUSTRIAL, TOOLS, JETTING, WET, AS_WRITTEN),
    caution="Grades are judged by eye against the words and pictures of the standard. A grade of one scheme is never "
    "taken for one of another: only the parties may accept that.",
    example={"wanted": "Sa 2½", "found": "Sa 3"},
)
def cleanliness_grade(inputs: CleanlinessIn) -> CleanlinessOut:
    """Whether the grade found is at least the grade asked for, on one scale whose grades have an order.

    Grades of two scales are not judged. Where no scale here knows them, only the same words are the same grade.
    """
    wanted, found = places_of(inputs.wanted), places_of(inputs.found)
    scale = next((each for each in wanted if each in found), "")
    if scale:
        passed = found[scale] >= wanted[scale]
    elif in_one_way(inputs.wanted) == in_one_way(inputs.found):
        passed, scale = True, "as written"
    else:
        note = _not_compared(wanted, found)
        return CleanlinessOut(verdict="not judged", rule="", edition="", checks=(), notes=(note,))
    sentence = "The grade found is at least the grade asked for."
    check = Check("grade", scale, sentence, inputs.wanted, inputs.found, passed)
    return CleanlinessOut(verdict=judged([check]), rule=scale, edition="", checks=(check,), notes=())


def _not_compared(wanted: dict[str, int], found: dict[str, int]) -> str:
    if wanted and found:
        asked, had = "; ".join(wanted), "; ".join(found)
        return f"Asked for by {asked}, found by {had}: grades of two schemes are not compared."
    return "A grade that no scale here knows was written: what it is worth is for the parties to say."
