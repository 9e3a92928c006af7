"""Cleanliness of the prepared surface and of the abrasive: grades, dust, edges, conductivity."""

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
    numbers,
    result,
)

NAMES = Source("ISO 8501-1; SSPC / NACE", "names of the grades", "", "stored source")
NEARNESS = Source("ISO 8501-1; SSPC / NACE", "which grades are near", "", "from memory")
STAINS = Source("SSPC-SP 10 and SP 6", "shadows up to 5 % and 33 % of each 58 cm² (9 in²)", "", "from memory")
DUST = Source("ISO 8502-3", "1992 / 2017, ratings 1 to 5 and size classes 0 to 5", "", "from memory")
DUST_IMO = Source("IMO MSC.215(82)", "2006, quantity 1 for size classes 3, 4 and 5", "Table 1", "from memory")
DUST_NORSOK = Source("NORSOK M-501", "edition 6, quantity and size at most 2", "Table", "from memory")
D4940 = Source("ASTM D4940", "water at most 5 µS/cm; two means within 5 % relative", "", "stored source")
D4940_APART = Source("ASTM D4940", "volume by volume; no numerical conversion to ISO 11127-6 by weight", "",
                     "stored source")  # fmt: skip
AB_1 = Source("SSPC-AB 1", "at most 1000 µS/cm by ASTM D4940", "", "from memory")
AB_2_OIL = Source("SSPC-AB 2", "1996 / 2004, partial text: no oil on or in the water after 10 min", "", "stored source")
ISO_11127 = Source("ISO 11126 by ISO 11127-6", "25 mS/m, which is 250 µS/cm", "", "stored source")
EDGES = Source("IMO MSC.215(82)", "2006, 2 mm radius or three-pass grinding", "Table 1", "from memory")

# Rows of near equivalents: ISO 8501-1, SSPC, NACE / AMPP number, name.
NEAR = (
    ("Sa 3", "SSPC-SP 5", "NACE No. 1", "white metal"),
    ("Sa 2½", "SSPC-SP 10", "NACE No. 2", "near-white metal"),
    ("Sa 2", "SSPC-SP 6", "NACE No. 3", "commercial"),
    ("Sa 1", "SSPC-SP 7", "NACE No. 4", "brush-off"),
    ("", "SSPC-SP 14", "NACE No. 8", "industrial"),
    ("St 2", "SSPC-SP 2", "", "hand tool"),
    ("St 3", "SSPC-SP 3", "", "power tool"),
    ("", "SSPC-SP 11", "", "power tool to bare metal"),
    ("", "SSPC-SP 15", "", "commercial power tool"),
)
WRITTEN_GRADES = tuple(grade for row in NEAR for grade in row[:3] if grade)
STAINS_PCT = {"SSPC-SP 10": 5, "NACE No. 2": 5, "SSPC-SP 6": 33, "NACE No. 3": 33}


@dataclass(frozen=True, kw_only=True)
class GradeIn:
    grade: str = choice("Grade as written", WRITTEN_GRADES)


@dataclass(frozen=True, kw_only=True)
class GradeOut:
    grade: str = result("Grade as written")
    called: str = result("Name")
    near_equivalents: tuple[str, ...] = result("Near equivalents")
    stains_at_most_pct: int | None = result("Shadows and stains at most", optional=True)
    note: str = result("Note")


@calculation(
    "grade-equivalents",
    title="Near equivalents of a cleanliness grade",
    group="Surface",
    sources=(NAMES, NEARNESS, STAINS),
    example={"grade": "Sa 2½"},
    caution="Near, not identical. Record the grade as specified; only the parties may accept another.",
)
def grade_equivalents(inputs: GradeIn) -> GradeOut:
    """Grades of other standards that lie near one grade; they are shown side by side and never merged."""
    row = next(row for row in NEAR if inputs.grade in row[:3])
    near = tuple(grade for grade in row[:3] if grade and grade != inputs.grade)
    note = "Near equivalents are not identical: keep the grade as written."
    return GradeOut(
        grade=inputs.grade,
        called=row[3],
        near_equivalents=near,
        stains_at_most_pct=STAINS_PCT.get(inputs.grade),
        note=note if near else "No near equivalent in the other standards.",
    )


@dataclass(frozen=True, kw_only=True)
class DustRating:
    quantity: int = number("Quantity rating", help="0 for none; the pictures begin at 1.", minimum=0, maximum=5)
    size_class: int = number("Size class", minimum=0, maximum=5)


@dataclass(frozen=True, kw_only=True)
class DustIn:
    ratings: tuple[DustRating, ...] = items("Ratings of each tape", DustRating)
    rule: str = choice("Judged by", ("declared limits", "NORSOK M-501", "IMO PSPC"), default="declared limits")
    maximum_quantity: int | None = number("Greatest quantity rating", minimum=1, maximum=5, optional=True)
    maximum_size_class: int | None = number("Greatest size class", minimum=0, maximum=5, optional=True)
    tapes: int | None = number(
        "Tapes asked for", minimum=1, maximum=1000, optional=True, help="With fewer, nothing is passed by them."
    )

    def __post_init__(self) -> None:
        declared = (self.maximum_quantity, self.maximum_size_class)
        if self.rule == "declared limits" and declared == (None, None):
            raise InputFault.at("maximum_quantity", "give maximum_quantity, maximum_size_class or both")
        if self.rule != "declared limits" and declared != (None, None):
            name = "maximum_quantity" if self.maximum_quantity is not None else "maximum_size_class"
            raise InputFault.at(name, f"{self.rule} sets its own limits: leave this out")


@dataclass(frozen=True, kw_only=True)
class DustOut(Judged):
    worst_quantity: int = result("Greatest quantity rating")
    worst_size_class: int = result("Greatest size class")


IMO_SIZES = (3, 4, 5)
IMO_VISIBLE_SIZE = 2  # the smallest class seen without magnification


@calculation(
    "dust-rating",
    title="Dust on prepared steel",
    group="Surface",
    sources=(DUST, DUST_NORSOK, DUST_IMO),
    example={"ratings": [{"quantity": 2, "size_class": 2}], "rule": "NORSOK M-501"},
    caution="Ratings are read from the pictures of the standard, by eye.",
)
def dust_rating(inputs: DustIn) -> DustOut:
    """Judge tape ratings of dust against declared limits, NORSOK M-501 (2 and 2) or IMO PSPC.

    IMO: quantity 1 for size classes 3 to 5; finer dust that is visible without magnification is removed.
    """
    if inputs.rule == "IMO PSPC":
        checks = _imo_checks(inputs.ratings)
    else:
        norsok = inputs.rule == "NORSOK M-501"
        quantity = 2 if norsok else inputs.maximum_quantity
        size = 2 if norsok else inputs.maximum_size_class
        clause = "NORSOK M-501 (from memory)" if norsok else "specification"
        checks = [
            _at_most("quantity", [rating.quantity for rating in inputs.ratings], quantity, clause),
            _at_most("size class", [rating.size_class for rating in inputs.ratings], size, clause),
        ]
    kept = [check for check in checks if check is not None]
    wanted, found = inputs.tapes or 1, len(inputs.ratings)
    enough = count_check(wanted, found, name="number of tapes", clause="ISO 8502-3", unit="tapes", counted_in="tape",
                         sentence="As many tapes were taken as are asked for.")  # fmt: skip
    verdict, said = judged_with_counts(kept, [enough] if inputs.tapes else [])
    return DustOut(
        verdict=verdict,
        rule=f"ISO 8502-3, {inputs.rule}",
        edition="",
        checks=said,
        worst_quantity=max(rating.quantity for rating in inputs.ratings),
        worst_size_class=max(rating.size_class for rating in inputs.ratings),
    )


def _at_most(what: str, values: list[int], limit: int | None, clause: str) -> Check | None:
    if limit is None:
        return None
    above = tuple(index for index, value in enumerate(values) if value > limit)
    sentence = f"No tape may show a greater {what}."
    return Check(f"dust {what}", clause, sentence, limit, max(values), not above, above, counted_in="tape",
                 decides_alone=True)  # fmt: skip


def _imo_checks(ratings: tuple[DustRating, ...]) -> list[Check | None]:
    clause = "IMO MSC.215(82), Table 1 (from memory)"
    coarse = [(i, rating.quantity) for i, rating in enumerate(ratings) if rating.size_class in IMO_SIZES]
    fine = tuple(i for i, rating in enumerate(ratings) if rating.size_class == IMO_VISIBLE_SIZE)
    above = tuple(i for i, quantity in coarse if quantity > 1)
    return [
        Check(
            "dust of size classes 3 to 5", clause, "Dust of size classes 3, 4 and 5 must not exceed quantity 1.",
            1, max((quantity for _, quantity in coarse), default=0), not above, above, counted_in="tape",
            decides_alone=True,
        ),
        Check(
            "visible finer dust", clause, "Finer dust must be removed where it is visible without magnification.",
            0, len(fine), not fine, fine, counted_in="tape", decides_alone=True,
        ),
    ]  # fmt: skip


NOT_LOOKED = "not looked at"
BY_D4940, BY_ISO = "ASTM D4940", "ISO 11127-6"
ABRASIVE_METHODS = (BY_D4940, BY_ISO)


@dataclass(frozen=True, kw_only=True)
class AbrasiveIn:
    means_us_cm: tuple[Fraction, ...] = numbers(
        "Conductivity of each leachate", unit="µS/cm", minimum=0, maximum=1_000_000, most=100
    )
    water_us_cm: Fraction = number("Conductivity of the water before", unit="µS/cm", minimum=0, maximum=1000)
    method: str = choice("Method", ABRASIVE_METHODS)
    limit: str = choice("Limit", ("SSPC-AB 1", "ISO 11126", "declared"))
    limit_us_cm: Fraction | None = number("Declared limit", unit="µS/cm", above=0, maximum=1_000_000, optional=True)
    oil: str = choice(
        "Oil on or in the water of the vial", (NOT_LOOKED, "none", "seen"), default=NOT_LOOKED,
        help="After it has stood ten minutes (SSPC-AB 2).",
    )  # fmt: skip

    def __post_init__(self) -> None:
        if (self.limit == "declared") != (self.limit_us_cm is not None):
            message = "is needed for a declared limit" if self.limit == "declared" else "leave out: the limit is named"
            raise InputFault.at("limit_us_cm", message)


@dataclass(frozen=True, kw_only=True)
class AbrasiveOut(Judged):
    mean_us_cm: Fraction = result("Mean conductivity", unit="µS/cm")
    limit_us_cm: Fraction = result("Limit", unit="µS/cm")
    spread_pct: Fraction | None = result("Spread of the results", unit="%", optional=True)
    notes: tuple[str, ...] = result("Notes")


ABRASIVE_LIMITS_US_CM = {"SSPC-AB 1": Fraction(1000), "ISO 11126": Fraction(250)}
METHOD_OF_LIMIT = {"SSPC-AB 1": BY_D4940, "ISO 11126": BY_ISO}
WATER_AT_MOST_US_CM = 5
SPREAD_AT_MOST_PCT = 5


@calculation(
    "abrasive-conductivity",
    title="Conductivity of abrasive",
    group="Surface",
    sources=(D4940, D4940_APART, AB_1, ISO_11127, AB_2_OIL),
    example={"means_us_cm": [180, 186], "water_us_cm": 2, "method": BY_D4940, "limit": "SSPC-AB 1"},
    caution="Conductivity tells of salts, not of oil: look for a film of oil on the water as well.",
)
def abrasive_conductivity(inputs: AbrasiveIn) -> AbrasiveOut:
    """Judge the conductivity of water in which abrasive was shaken, with the checks of ASTM D4940.

    A limit belongs to its method: what was found by volume (D4940) does not compare with a limit by weight (ISO
    11127-6). There, with water that conducts too much, and with results too far apart, the abrasive is not judged.
    """
    mean = sum(inputs.means_us_cm, Fraction(0)) / len(inputs.means_us_cm)
    limit = inputs.limit_us_cm or ABRASIVE_LIMITS_US_CM[inputs.limit]
    clause = "specification" if inputs.limit == "declared" else f"{inputs.limit} by {METHOD_OF_LIMIT[inputs.limit]}"
    compared = METHOD_OF_LIMIT.get(inputs.limit, inputs.method) == inputs.method
    by_limit = Check("limit", clause, "The mean conductivity must not be above the limit.", limit, mean, mean <= limit,
                     unit="µS/cm")  # fmt: skip
    spread = _spread_pct(inputs.means_us_cm, mean)
    of_test = _test_checks(inputs, spread) if inputs.method == BY_D4940 else []
    sound = all(check.passed for check in of_test)
    oil = [_oil(inputs.oil)] if inputs.oil != NOT_LOOKED else []
    clean = all(check.passed for check in oil)
    verdict = judged([by_limit, *oil]) if compared and sound else "not judged"
    return AbrasiveOut(
        verdict=verdict if clean else "fail",
        rule=f"{inputs.method}, limit {inputs.limit}",
        edition="",
        checks=(*((by_limit,) if compared else ()), *of_test, *oil),
        mean_us_cm=mean,
        limit_us_cm=limit,
        spread_pct=spread,
        notes=tuple(_abrasive_notes(inputs, mean, compared=compared, sound=sound)),
    )


def _oil(seen: str) -> Check:
    """Oil rejects the abrasive whatever it conducts."""
    return Check("oil", "SSPC-AB 2", "No oil stands on or in the water.", "none", seen, seen == "none")


def _spread_pct(means: Sequence[Fraction], mean: Fraction) -> Fraction | None:
    return 100 * (max(means) - min(means)) / mean if len(means) > 1 and mean else None


def _test_checks(inputs: AbrasiveIn, spread: Fraction | None) -> list[Check]:
    """What ASTM D4940 asks of the test itself."""
    checks = [
        Check("water", "ASTM D4940", "The water used must conduct no more than this beforehand.", WATER_AT_MOST_US_CM,
              inputs.water_us_cm, inputs.water_us_cm <= WATER_AT_MOST_US_CM, unit="µS/cm"),
    ]  # fmt: skip
    if spread is not None:
        sentence = "Results of one operator must not differ by more than this share of their mean."
        passed = spread <= SPREAD_AT_MOST_PCT
        checks.append(Check("repeatability", "ASTM D4940", sentence, SPREAD_AT_MOST_PCT, spread, passed, unit="%"))
    return checks


def _abrasive_notes(inputs: AbrasiveIn, mean: Fraction, *, compared: bool, sound: bool) -> Iterator[str]:
    if not compared:
        yield (
            f"The limit of {inputs.limit} is for {METHOD_OF_LIMIT[inputs.limit]}; {inputs.method} gives other figures, "
            "and there is no conversion: test by the method of the limit."
        )
    if not sound:
        yield "The test itself does not meet the method: repeat it before judging the abrasive."
    if compared and inputs.limit == "ISO 11126" and mean == ABRASIVE_LIMITS_US_CM["ISO 11126"]:
        yield "Exactly at the limit: whether its text says “below” or “at most” is not known here. See your copy."


@dataclass(frozen=True, kw_only=True)
class EdgeIn:
    radius_mm: Fraction | None = number("Least radius found", minimum=0, maximum=1000, optional=True)
    grinding_passes: int | None = number("Grinding passes", minimum=0, maximum=100, optional=True)

    def __post_init__(self) -> None:
        if self.radius_mm is None and self.grinding_passes is None:
            raise InputFault.at("radius_mm", "give radius_mm, grinding_passes or both")


@dataclass(frozen=True, kw_only=True)
class EdgeOut(Judged):
    pass


EDGE_RADIUS_MM, EDGE_PASSES = 2, 3


@calculation(
    "edge-preparation",
    title="Edges before painting",
    group="Surface",
    sources=(EDGES, Source("Marine coating document", "2 mm radius or three passes", "", "stored source")),
    example={"radius_mm": 2},
)
def edge_preparation(inputs: EdgeIn) -> EdgeOut:
    """Edges rounded to at least 2 mm radius, or ground in three passes: one of the two is enough."""
    radius, passes = inputs.radius_mm, inputs.grinding_passes
    by_radius, by_passes = (radius or 0) >= EDGE_RADIUS_MM, (passes or 0) >= EDGE_PASSES
    if by_radius or not passes:
        check = Check("edge radius", "IMO MSC.215(82), Table 1 (from memory)", "Edges must be rounded to this radius.",
                      EDGE_RADIUS_MM, radius or 0, by_radius, unit="mm")  # fmt: skip
    else:
        check = Check("grinding passes", "IMO MSC.215(82), Table 1 (from memory)",
                      "Edges must be ground in so many passes.", EDGE_PASSES, passes, by_passes)  # fmt: skip
    return EdgeOut(verdict=judged([check]), rule="2 mm radius or three passes", edition="", checks=(check,))


DAMAGE = Source("IMO MSC.215(82)", "2006, guidance on damage: to 2 % St 3; over 2 %, or over 25 m² in one, Sa 2½",
                "Table 1, 3.3", "stored source")  # fmt: skip
DAMAGE_AT_MOST_PCT, TOGETHER_AT_MOST_M2 = 2, 25


@dataclass(frozen=True, kw_only=True)
class DamageIn:
    tank_m2: Fraction = number("Surface of the tank", above=0, maximum=10_000_000)
    damaged_m2: Fraction = number("Damaged, in all", minimum=0, maximum=10_000_000)
    largest_m2: Fraction = number("Largest damage in one piece", minimum=0, maximum=10_000_000)

    def __post_init__(self) -> None:
        if self.damaged_m2 > self.tank_m2:
            raise InputFault.at("damaged_m2", "must not be more than tank_m2")
        if self.largest_m2 > self.damaged_m2:
            raise InputFault.at("largest_m2", "must not be more than damaged_m2, of which it is a part")


@dataclass(frozen=True, kw_only=True)
class DamageOut:
    least_grade: str = result("Least preparation")
    damaged_pct: Fraction = result("Damaged share")
    why: str = result("Why")


@calculation(
    "erection-damage",
    title="Damage after erection, ballast tank",
    group="Surface",
    sources=(DAMAGE,),
    example={"tank_m2": 2000, "damaged_m2": 40, "largest_m2": 10},
    caution="For new ballast tanks under the resolution. Butts after erection are another row: St 3 or better.",
)
def erection_damage(inputs: DamageIn) -> DamageOut:
    """Least preparation of damage: St 3 to 2 % of the tank, that share included; Sa 2½ above, or over 25 m² in one."""
    share = 100 * inputs.damaged_m2 / inputs.tank_m2
    large = inputs.largest_m2 > TOGETHER_AT_MOST_M2
    if share > DAMAGE_AT_MOST_PCT:
        why = "More than 2 % of the tank is damaged."
    else:
        why = "A damage in one piece is larger than 25 m²." if large else "At most 2 % is damaged, no piece over 25 m²."
    grade = "Sa 2½" if large or share > DAMAGE_AT_MOST_PCT else "St 3"
    return DamageOut(least_grade=grade, damaged_pct=share, why=why)
