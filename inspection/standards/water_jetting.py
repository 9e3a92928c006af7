"""Steel cleaned by water jetting: the grades WJ-1 to WJ-4 by unit area, and flash rust beside them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.registry import (
    Check,
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

GRADE = Source("SSPC-SP WJ-1 to WJ-4", "study cards", "percent of a unit area", "stored source")
UNIT_AREA = Source("SSPC-SP 15", "partial text; study cards", "unit area of 58 cm² (9 in²)", "stored source")
FLASH_SEEN = Source("SSPC water jetting", "society press release, shipyard page", "four levels by what is seen",
                    "stored source")  # fmt: skip
FLASH_CLOTH = Source("SSPC water jetting", "how the rust holds and marks a cloth", "", "from memory")
OBSERVERS = Source("Conference paper on flash rust", "agree on moderate and heavy, poorly on light and moderate", "",
                   "stored source")  # fmt: skip

MOST_PCT = {"WJ-1": 0, "WJ-2": 5, "WJ-3": 33}
"""Stains or tightly held matter in percent of each unit area; WJ-4 sets no figure, only loose matter must be gone."""
GRADES = ("WJ-1", "WJ-2", "WJ-3", "WJ-4")
NONE, LIGHT, MODERATE, HEAVY = "none", "L light", "M moderate", "H heavy"
FLASH_RUST = (NONE, LIGHT, MODERATE, HEAVY)
NO_GRADE = "none"


def grade_of(remaining_pct: Fraction, *, loose: bool) -> str:
    """The best grade a unit area reaches; "none" while loose matter is on it."""
    if loose:
        return NO_GRADE
    return next((grade for grade, most in MOST_PCT.items() if remaining_pct <= most), "WJ-4")


@dataclass(frozen=True, kw_only=True)
class UnitArea:
    place: str | None = text("Place", optional=True)
    remaining_pct: Fraction = number("Stains and tightly held matter", minimum=0, maximum=100)
    loose_matter: str = choice("Loose rust, scale or paint", ("no", "yes"))
    flash_rust: str = choice("Flash rust", FLASH_RUST)


@dataclass(frozen=True, kw_only=True)
class JettingIn:
    grade: str = choice("Grade asked for", GRADES)
    most_flash_rust: str = choice(
        "Most flash rust allowed", FLASH_RUST,
        help="none: steel fully seen. L: still seen through it. M: obscured. H: hidden.",
    )  # fmt: skip
    unit_areas: tuple[UnitArea, ...] = items("Unit areas of about 58 cm² (9 in²)", UnitArea, most=5000)


@dataclass(frozen=True, kw_only=True)
class UnitAreaOut:
    place: str
    grade: str
    flash_rust: str


@dataclass(frozen=True, kw_only=True)
class JettingOut(Judged):
    grade_reached: str = result("Grade of the worst unit area")
    worst_flash_rust: str = result("Most flash rust found")
    unit_areas: tuple[UnitAreaOut, ...] = result("Unit areas")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "water-jetting-grade",
    title="Water jetting: grade and flash rust",
    group="Surface",
    sources=(GRADE, UNIT_AREA, FLASH_SEEN, FLASH_CLOTH, OBSERVERS),
    caution="Every unit area counts, never a mean over them. A WJ grade is not converted to a Wa, Sa or SP grade: the "
    "schemes describe other things. Water makes no profile, it bares the old one. The jet cuts flesh and boots, and "
    "wounds from it are graver than they look: trained crews only, by local rules.",
    example={"grade": "WJ-2", "most_flash_rust": MODERATE, "unit_areas": [
        {"place": "frame 12", "remaining_pct": 3, "loose_matter": "no", "flash_rust": LIGHT},
        {"place": "frame 13", "remaining_pct": 5, "loose_matter": "no", "flash_rust": MODERATE},
    ]},
)  # fmt: skip
def water_jetting_grade(inputs: JettingIn) -> JettingOut:
    """Cleanliness and flash rust of every unit area against the grade and the level asked for, limits included.

    Percent of each unit area, 0 to 100: none for WJ-1, 5 for WJ-2, 33 for WJ-3; for WJ-4 only loose matter must be
    gone. Flash rust: L still shows the steel and hardly marks a cloth, M obscures it and marks lightly, H hides it,
    is loose and marks heavily.
    """
    areas = inputs.unit_areas
    limit = MOST_PCT.get(inputs.grade)
    loose = tuple(i for i, area in enumerate(areas) if area.loose_matter == "yes")
    checks = [Check("loose matter", inputs.grade, "No unit area carries loose rust, scale or paint.", 0, len(loose),
                    not loose, loose, "unit areas", "unit area")]  # fmt: skip
    if limit is not None:
        checks.append(_remaining(areas, limit, inputs.grade))
    checks.append(_flash_rust(areas, inputs.most_flash_rust))
    grades = [grade_of(area.remaining_pct, loose=area.loose_matter == "yes") for area in areas]
    return JettingOut(
        verdict=judged(checks),
        rule=f"{inputs.grade}, flash rust at most {inputs.most_flash_rust}",
        edition="",
        checks=tuple(checks),
        grade_reached=max(grades, key=(*GRADES, NO_GRADE).index),
        worst_flash_rust=max((area.flash_rust for area in areas), key=FLASH_RUST.index),
        unit_areas=tuple(
            UnitAreaOut(place=area.place or str(number_), grade=grade, flash_rust=area.flash_rust)
            for number_, (area, grade) in enumerate(zip(areas, grades, strict=True), start=1)
        ),
        notes=_notes(inputs),
    )


def _remaining(areas: Sequence[UnitArea], limit: int, grade: str) -> Check:
    worst = max(area.remaining_pct for area in areas)
    above = tuple(i for i, area in enumerate(areas) if area.remaining_pct > limit)
    nearest = tuple(i for i, area in enumerate(areas) if area.remaining_pct == worst)
    sentence = "Stains and tightly held matter keep to the grade's share of every unit area."
    return Check("remaining matter", grade, sentence, limit, worst, not above, above or nearest, "%", "unit area")


def _flash_rust(areas: Sequence[UnitArea], most: str) -> Check:
    found = [FLASH_RUST.index(area.flash_rust) for area in areas]
    above = tuple(i for i, level in enumerate(found) if level > FLASH_RUST.index(most))
    nearest = tuple(i for i, level in enumerate(found) if level == max(found))
    return Check("flash rust", "specification", "No unit area has more flash rust than allowed.", most,
                 FLASH_RUST[max(found)], not above, above or nearest, "", "unit area")  # fmt: skip


def _notes(inputs: JettingIn) -> tuple[str, ...]:
    notes = ["Flash rust grows: look just before painting, straight on, within arm's length, in good light."]
    if inputs.most_flash_rust == LIGHT and any(area.flash_rust in (LIGHT, MODERATE) for area in inputs.unit_areas):
        notes.append("Observers agree poorly on light and moderate: keep a photograph and ask a second observer.")
    return tuple(notes)
