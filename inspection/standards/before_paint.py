"""Compressed air, steelwork and the last look before paint: what is seen, held to what is asked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.completeness import count_check, judged_with_counts
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
from inspection.standards.water_jetting import FLASH_RUST

# --- compressed air ---------------------------------------------------------------------------------------------------
COLLECTOR = Source("ASTM D4285", "partial text: white absorbent or clear rigid plastic, any oil rejects the air", "",
                   "stored source")  # fmt: skip
AIR_TEST = Source("ASTM D4285", "at least one minute within 24 in of the outlet", "", "from memory")
AIR_OFTEN = Source("UFGS 09971", "at each start and every five operating hours at least", "", "stored source")
FURTHEST_CM, SHORTEST_S = Fraction(6096, 100), 60
NO, YES = "no", "yes"


@dataclass(frozen=True, kw_only=True)
class AirIn:
    oil: str = choice("Oil seen on the collector", (NO, YES))
    water: str = choice("Water seen on the collector", (NO, YES))
    held_s: Fraction = number("Held in the air for, seconds", above=0, maximum=36_000)
    distance_cm: Fraction = number("Distance from the outlet, cm", minimum=0, maximum=1000)
    running_h: Fraction | None = number(
        "Operating hours since the last test or start", minimum=0, maximum=1000, optional=True
    )
    every_h: Fraction | None = number("Tested every, operating hours", above=0, maximum=1000, optional=True)


@dataclass(frozen=True, kw_only=True)
class AirOut(Judged):
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "air-blotter",
    title="Oil and water in compressed air",
    group="Surface",
    sources=(COLLECTOR, AIR_TEST, AIR_OFTEN),
    caution="Blow condensate out first, with the compressor at its working state. Air at pressure tears skin and eyes: "
    "hold the collector on a stiff backing, stand aside, wear eye protection.",
    example={"oil": NO, "water": NO, "held_s": 60, "distance_cm": 50},
)
def air_blotter(inputs: AirIn) -> AirOut:
    """Whether a collector held in the air stayed clean: any oil or water fails, however the test was made.

    A clean collector passes only where it was held at least 60 s within 61 cm (24 in); else nothing is judged. The
    distance is in cm, the time in seconds.
    """
    checks = [_clean("oil", inputs.oil), _clean("water", inputs.water)]
    wrong = list(_not_by_the_method(inputs))
    verdict = judged(checks) if not wrong or not all(check.passed for check in checks) else "not judged"
    notes = list(wrong)
    if inputs.running_h is not None and inputs.every_h is not None and inputs.running_h > inputs.every_h:
        notes.append("The test is overdue: what was blasted since it fell due was blasted with air that nobody tested.")
    return AirOut(verdict=verdict, rule="ASTM D4285", edition="", checks=tuple(checks), notes=tuple(notes))


def _clean(what: str, seen: str) -> Check:
    sentence = f"The collector shows no {what}."
    return Check(what, "ASTM D4285", sentence, "none", "seen" if seen == YES else "none", seen == NO)


def _not_by_the_method(inputs: AirIn) -> Iterator[str]:
    if inputs.held_s < SHORTEST_S:
        yield f"Held for less than {SHORTEST_S} s, so a clean collector says nothing: test again."
    if inputs.distance_cm > FURTHEST_CM:
        yield "Further than 61 cm (24 in) from the outlet, so a clean collector says nothing: test again."


# --- steelwork --------------------------------------------------------------------------------------------------------
TYPES = Source("ISO 8501-3", "types of imperfections of welds, edges and surfaces", "contents of a training summary",
               "stored source")  # fmt: skip
GRADES = Source("ISO 8501-3", "P1 light, P2 thorough, P3 very thorough", "training summary", "stored source")
EDGE = Source("Industry handbook (Netherlands)", "a radius of 2 mm goes with P3", "", "stored source")
EDGE_IMO = Source("IMO MSC.215(82)", "2006, 2 mm radius or three-pass grinding", "Table 1", "from memory")

P_GRADES = ("P1", "P2", "P3")
BELOW_P1 = "none"
IMPERFECTIONS = {
    "spatter": "Weld spatter", "ripple": "Weld ripple or profile", "slag": "Weld slag", "undercut": "Undercut",
    "porosity": "Weld porosity", "crater": "End crater", "rolled-edge": "Rolled edge", "cut-edge": "Punched, sheared, "
    "sawn or drilled edge", "thermal-edge": "Thermally cut edge", "pits": "Pits and craters", "shelling": "Shelling",
    "lamination": "Roll-over or lamination", "rolled-in": "Rolled-in foreign matter", "groove": "Grooves and gouges",
    "indentation": "Indentations and roll marks",
}  # fmt: skip
EDGES = ("rolled-edge", "cut-edge", "thermal-edge")
EDGE_RADIUS_MM, EDGE_PASSES = 2, 3


@dataclass(frozen=True, kw_only=True)
class Imperfection:
    place: str | None = text("Place", optional=True)
    type: str = choice("Type of imperfection", tuple(IMPERFECTIONS))
    grade: str = choice("Grade it reaches", (*P_GRADES, BELOW_P1))
    radius_mm: Fraction | None = number("Radius of the edge", minimum=0, maximum=100, optional=True)

    def __post_init__(self) -> None:
        if self.radius_mm is not None and self.type not in EDGES:
            raise InputFault.at("radius_mm", f"belongs to an edge only: {', '.join(EDGES)}")


@dataclass(frozen=True, kw_only=True)
class SteelworkIn:
    grade: str = choice("Grade asked for", P_GRADES)
    edges: str = choice(
        "Edges asked for", ("by the grade", "2 mm radius or three passes"), default="by the grade",
        help="IMO PSPC asks the second of ballast tanks.",
    )  # fmt: skip
    grinding_passes: int | None = number("Grinding passes of the edges", minimum=0, maximum=100, optional=True)
    found: tuple[Imperfection, ...] = items("Imperfections", Imperfection, most=2000)


@dataclass(frozen=True, kw_only=True)
class SteelworkOut(Judged):
    lowest: str = result("Lowest grade")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "steelwork-grades",
    title="Welds, edges and surface before painting",
    group="Surface",
    sources=(TYPES, GRADES, EDGE, EDGE_IMO),
    caution="What each type may show at a grade is in the standard; somebody qualified assesses it. A 2025 edition is "
    "spoken of: hold the edition of the contract. Grinding throws sparks: by local rules.",
    example={"grade": "P3", "found": [{"place": "seam 4", "type": "undercut", "grade": "P3"},
                                      {"place": "flange", "type": "rolled-edge", "grade": "P3", "radius_mm": 2}]},
)  # fmt: skip
def steelwork_grades(inputs: SteelworkIn) -> SteelworkOut:
    """Whether each imperfection reaches the grade asked for, and each edge its radius in mm, 2 mm included.

    At P3 an edge that was measured has a radius of at least 2 mm; ballast tanks ask that of every edge, or three
    passes of grinding instead.
    """
    reached = [(*P_GRADES, BELOW_P1).index(each.grade) if each.grade in P_GRADES else -1 for each in inputs.found]
    wanted = P_GRADES.index(inputs.grade)
    below = tuple(index for index, rank in enumerate(reached) if rank < wanted)
    lowest = P_GRADES[min(reached)] if min(reached) >= 0 else BELOW_P1
    sentence = "Every imperfection reaches the grade asked for."
    checks = [Check("grade", "ISO 8501-3", sentence, inputs.grade, lowest, not below, below, "", "imperfection",
                    decides_alone=True)]  # fmt: skip
    edges = {index: each for index, each in enumerate(inputs.found) if each.type in EDGES}
    by_passes = inputs.edges != "by the grade" and (inputs.grinding_passes or 0) >= EDGE_PASSES
    if edges and not by_passes and (inputs.grade == "P3" or inputs.edges != "by the grade"):
        checks += _radius(edges)
    measured = sum(each.radius_mm is not None for each in edges.values())
    asked = [] if inputs.edges == "by the grade" or by_passes else [_all_measured(len(edges), measured)]
    verdict, said = judged_with_counts(checks, asked)
    notes = ("An edge has no radius recorded; a gauge or comparator tells it.",) if measured < len(edges) else ()
    return SteelworkOut(
        verdict=verdict, rule=f"ISO 8501-3, {inputs.grade}", edition="", checks=said, lowest=lowest,
        notes=() if by_passes else notes,
    )  # fmt: skip


def _all_measured(edges: int, measured: int) -> Check:
    return count_check(edges, measured, name="edges measured", clause="IMO MSC.215(82), Table 1 (from memory)",
                       unit="edges", counted_in="imperfection",
                       sentence="Every edge has its radius, or was ground in three passes.")  # fmt: skip


def _radius(edges: dict[int, Imperfection]) -> list[Check]:
    """The radius of those edges that were measured."""
    measured = {index: each.radius_mm for index, each in edges.items() if each.radius_mm is not None}
    if not measured:
        return []
    below = tuple(index for index, radius in measured.items() if radius < EDGE_RADIUS_MM)
    sentence = "Edges are rounded to this radius at least."
    least = min(measured.values())
    return [Check("edge radius", "ISO 8501-3, P3", sentence, EDGE_RADIUS_MM, least, not below, below, "mm",
                  "imperfection", decides_alone=True)]  # fmt: skip


# --- last look --------------------------------------------------------------------------------------------------------
NO_CLOCK = Source("Forum of a trade magazine", "no universal number of hours: 4, 8 and 24 are met", "", "stored source")
LOOKED = Source("Municipal specification", "any rust: blast again", "", "stored source")
INSIDE = Source("the hours of the specification, ends included", "", "", "common practice, no source")
CLEAN, SEEN = "none", "seen"


@dataclass(frozen=True, kw_only=True)
class LookIn:
    hours_h: Fraction = number("Hours from the end of the blast", minimum=0, maximum=10_000)
    within_h: Fraction | None = number("First coat within, hours", above=0, maximum=10_000, optional=True)
    flash_rust: str = choice("Flash rust", FLASH_RUST)
    most_flash_rust: str = choice("Most flash rust allowed", FLASH_RUST, default="none")
    contamination: str = choice("Oil, dust or other matter", (CLEAN, SEEN))
    condensation: str = choice("Water or condensation", (CLEAN, SEEN))


@dataclass(frozen=True, kw_only=True)
class LookOut(Judged):
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "last-look",
    title="Last look before the first coat",
    group="Surface",
    sources=(NO_CLOCK, LOOKED, INSIDE),
    caution="The condition decides, not the clock alone: salt and humidity rust steel sooner than any number of hours.",
    example={"hours_h": 5, "within_h": 8, "flash_rust": "none", "contamination": CLEAN, "condensation": CLEAN},
)
def last_look(inputs: LookIn) -> LookOut:
    """Whether blasted steel may still be painted: no contamination, no water, flash rust as allowed, and in time.

    Hours from the end of the blast against the specification's, ends included; where it names none, the clock is not
    judged. Visible rust fails whatever the clock.
    """
    checks = list(_look_checks(inputs))
    notes = () if inputs.within_h is not None else ("No number of hours is specified, so the clock was not judged.",)
    return LookOut(verdict=judged(checks), rule="as specified", edition="", checks=tuple(checks), notes=notes)


def _look_checks(inputs: LookIn) -> Sequence[Check]:
    allowed, found = (FLASH_RUST.index(level) for level in (inputs.most_flash_rust, inputs.flash_rust))
    checks = [
        Check("flash rust", "specification", "There is no more flash rust than allowed.", inputs.most_flash_rust,
              inputs.flash_rust, found <= allowed),
        Check("contamination", "specification", "No oil, dust or other matter is seen.", CLEAN, inputs.contamination,
              inputs.contamination == CLEAN),
        Check("condensation", "specification", "The steel is dry.", CLEAN, inputs.condensation,
              inputs.condensation == CLEAN),
    ]  # fmt: skip
    if inputs.within_h is not None:
        sentence = "The first coat goes on within these hours of the blast."
        checks.append(Check("time", "specification", sentence, inputs.within_h, inputs.hours_h,
                            inputs.hours_h <= inputs.within_h, unit="h"))  # fmt: skip
    return checks
