"""ISO 1461: thickness of hot dip galvanizing, by local and mean values, and the repair of bare places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.completeness import UNFINISHED, count_check, judged_with_counts
from inspection.standards.registry import (
    Check,
    Fault,
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
    text,
    thickness,
    thickness_lists,
)
from inspection.standards.thickness import counted, each_at_least, mean
from inspection.standards.units import shown

VALUES = Source("ISO 1461", "two trade tables that agree", "local and mean thickness", "stored source")
BORDERS = Source("ISO 1461", "1999 extract; galvanizers' association on 2009", "borders of steel thickness",
                 "stored source")  # fmt: skip
ACCEPTANCE = Source("ISO 1461", "parallel text and association guide", "reference areas, readings, acceptance",
                    "stored source")  # fmt: skip
SAMPLE = Source("ISO 1461", "", "articles in the control sample by size of lot", "from memory")
REPAIR = Source("ISO 1461", "2009, partial text", "repair: 0.5 %, 10 cm², 100 µm", "stored source")

OVER_2_M2, UP_TO_2_M2, UNDER_10_CM2 = "over 2 m²", "10 cm² to 2 m²", "under 10 cm²"
STEEL, CASTING = "steel, not centrifuged", "casting, not centrifuged"
DECLARED = "declared"
G_M2_PER_UM = Fraction(72, 10)  # zinc coating of 7.2 g/cm³
CLAUSE = "ISO 1461, reference areas"
READINGS_AN_AREA = 5
AREAS_OF_A_LARGE_ARTICLE = 3

# From so many millimetres of steel: local and mean thickness. Whether the border belongs to the row is the edition's.
ROWS_UM = {
    STEEL: ((Fraction(6), 70, 85), (Fraction(3), 55, 70), (Fraction(3, 2), 45, 55), (Fraction(0), 35, 45)),
    CASTING: ((Fraction(6), 70, 80), (Fraction(0), 60, 70)),
}
SAMPLE_ROWS = ((3, None), (500, 3), (1200, 5), (3200, 8), (10_000, 13))
LARGEST_SAMPLE = 20


def least_um(article: str, steel_mm: Fraction, edition: str) -> tuple[int, int]:
    """Local and mean thickness for a thickness of steel in mm.

    At 6 and 3 mm the editions differ: in 1999 the border belongs to the thicker class, in 2009 to the thinner one.
    From 1.5 mm on both agree that the border belongs to the thicker one, and castings of 6 mm to the thicker one.
    """
    for border, local, average in ROWS_UM[article]:
        excluded = article == STEEL and edition == "2009" and border >= 3
        if steel_mm > border or (steel_mm == border and not excluded):
            return local, average
    raise AssertionError("the last row begins at 0")


def control_sample(lot: int) -> int:
    """Articles to inspect out of a lot (from memory): all of up to 3, then 3, 5, 8, 13 and 20."""
    for largest, count in SAMPLE_ROWS:
        if lot <= largest:
            return lot if count is None else count
    return LARGEST_SAMPLE


@dataclass(frozen=True, kw_only=True)
class Article:
    name: str | None = text("Article", optional=True)
    areas_um: tuple[tuple[Fraction, ...], ...] = thickness_lists(
        "Reference areas", help="A group is an area of about 10 cm².", most=1000
    )


@dataclass(frozen=True, kw_only=True)
class GalvanizingIn:
    edition: str = choice(
        "Edition", ("1999", "2009", DECLARED),
        help="They differ at exactly 3 and 6 mm. The table of 2022 is not known here: declare the values.",
    )  # fmt: skip
    size: str = choice("Size of the articles", (OVER_2_M2, UP_TO_2_M2, UNDER_10_CM2))
    article: str | None = choice(
        "Kind of article", (STEEL, CASTING), optional=True,
        help="For the edition's table; centrifuged articles have other values: declare them.",
    )  # fmt: skip
    steel_mm: Fraction | None = number("Thickness of the steel", above=0, maximum=1000, optional=True)
    local_um: Fraction | None = thickness("Declared least local thickness", above=0, optional=True)
    least_mean_um: Fraction | None = thickness("Declared least mean thickness", above=0, optional=True)
    lot: int | None = number("Articles in the lot", minimum=1, maximum=10**7, optional=True)
    articles: tuple[Article, ...] = items("Articles inspected, one kind and steel thickness", Article, most=1000)

    def __post_init__(self) -> None:
        table, declared = ("article", "steel_mm"), ("local_um", "least_mean_um")
        needed, left_out = (declared, table) if self.edition == DECLARED else (table, declared)
        faults = [Fault(name, f"is needed for edition {self.edition}") for name in needed if self._lacks(name)]
        faults += [Fault(name, f"leave out for edition {self.edition}") for name in left_out if not self._lacks(name)]
        if self.lot is not None and len(self.articles) > self.lot:
            faults.append(Fault("lot", f"is smaller than the {len(self.articles)} articles given"))
        if faults:
            raise InputFault(faults)
        if self.local_um is not None and self.least_mean_um is not None and self.local_um > self.least_mean_um:
            raise InputFault.at("local_um", "must not be more than least_mean_um")

    def _lacks(self, name: str) -> bool:
        return getattr(self, name) is None

    def limits(self) -> tuple[Fraction, Fraction]:
        """Least local and least mean thickness, µm."""
        if self.local_um is not None and self.least_mean_um is not None:
            return self.local_um, self.least_mean_um
        local, average = least_um(self.article or STEEL, self.steel_mm or Fraction(0), self.edition)
        return Fraction(local), Fraction(average)


@dataclass(frozen=True, kw_only=True)
class ArticleOut:
    article: str
    area_means_um: tuple[Fraction, ...]
    mean_um: Fraction


@dataclass(frozen=True, kw_only=True)
class GalvanizingOut(Judged):
    local_limit_um: Fraction = result("Least local thickness")
    mean_limit_um: Fraction = result("Least mean thickness")
    mean_um: Fraction = result("Mean of all reference areas")
    mean_mass_g_m2: Fraction = result("Its mass, at 7.2 g/cm³", unit="g/m²")
    lowest_area_um: Fraction = result("Lowest reference area")
    articles: tuple[ArticleOut, ...] = result("Articles")
    sample: int | None = result("Articles in the control sample", optional=True)
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "galvanizing-iso1461",
    title="Hot dip galvanizing (ISO 1461)",
    group="Thickness",
    sources=(VALUES, BORDERS, ACCEPTANCE, SAMPLE, UNFINISHED),
    caution="A single reading below the table means nothing: a reference area is judged by its mean, and there is no "
    "greatest thickness. One steel thickness at a time: an article of several has each judged by itself. In a dispute "
    "the mass decides (ISO 1460).",
    example={"edition": "2009", "size": UP_TO_2_M2, "article": STEEL, "steel_mm": 4, "lot": 2,
             "articles": [{"name": "bracket 1", "areas_um": [[52, 58, 57, 56, 57]]},
                          {"name": "bracket 2", "areas_um": [[84, 86, 85, 87, 83]]}]},
)  # fmt: skip
def galvanizing_iso1461(inputs: GalvanizingIn) -> GalvanizingOut:
    """Over 2 m²: each article's mean reaches the mean value. Smaller: each area the local, all together the mean value.

    Steel in mm, zinc in µm or mil. A reference area is the mean of five readings at least; an article over 2 m² has
    three areas at least. While readings, areas or articles of the sample are missing, the sample is incomplete.
    """
    local, least_mean = inputs.limits()
    areas = [[mean(area) for area in at.areas_um] for at in inputs.articles]
    every = [area for of_one in areas for area in of_one]
    sample = None if inputs.lot is None else control_sample(inputs.lot)
    verdict, checks = judged_with_counts(_judgements(inputs, areas, local, least_mean), _counts(inputs, sample))
    return GalvanizingOut(
        verdict=verdict,
        rule="ISO 1461" if inputs.edition != DECLARED else "ISO 1461, declared values",
        edition="" if inputs.edition == DECLARED else inputs.edition,
        checks=checks,
        local_limit_um=local,
        mean_limit_um=least_mean,
        mean_um=mean(every),
        mean_mass_g_m2=mean(every) * G_M2_PER_UM,
        lowest_area_um=min(every),
        articles=tuple(
            ArticleOut(article=at.name or str(number_), area_means_um=tuple(of_one), mean_um=mean(of_one))
            for number_, (at, of_one) in enumerate(zip(inputs.articles, areas, strict=True), start=1)
        ),
        sample=sample,
        notes=_notes(inputs, every, local, sample),
    )


def _judgements(
    inputs: GalvanizingIn, areas: Sequence[Sequence[Fraction]], local: Fraction, least_mean: Fraction
) -> list[Check]:
    """The check that one value decides, and on smaller articles that on all areas together."""
    if inputs.size == OVER_2_M2:
        begun = frozenset(i for i, at in enumerate(inputs.articles) if not _is_whole(at))
        sentence = "The mean of every article's reference areas reaches the least mean thickness."
        return [each_at_least(least_mean, [mean(of_one) for of_one in areas], name="mean of each article",
                              clause=CLAUSE, sentence=sentence, counted_in="article", unfinished=begun)]  # fmt: skip
    values = [area for of_one in areas for area in of_one]
    return [
        each_at_least(local, values, name="local thickness", clause=CLAUSE, counted_in="area",
                      sentence="Every reference area reaches the least local thickness.",
                      unfinished=frozenset(_short(inputs))),
        Check("mean of all areas", CLAUSE, "The mean of all reference areas reaches the least mean thickness.",
              least_mean, mean(values), mean(values) >= least_mean, (), "um", "area"),
    ]  # fmt: skip


def _is_whole(article: Article) -> bool:
    areas = article.areas_um
    return len(areas) >= AREAS_OF_A_LARGE_ARTICLE and min(len(area) for area in areas) >= READINGS_AN_AREA


def _readings(inputs: GalvanizingIn) -> list[int]:
    """How many readings each reference area has, over all articles."""
    return [len(area) for at in inputs.articles for area in at.areas_um]


def _short(inputs: GalvanizingIn) -> tuple[int, ...]:
    return tuple(i for i, readings in enumerate(_readings(inputs)) if readings < READINGS_AN_AREA)


def _counts(inputs: GalvanizingIn, sample: int | None) -> list[Check]:
    counts = [
        count_check(READINGS_AN_AREA, min(_readings(inputs)), name="readings an area", clause=CLAUSE, unit="readings",
                    counted_in="area", short=_short(inputs),
                    sentence="Every reference area has five readings at least."),
    ]  # fmt: skip
    if inputs.size == OVER_2_M2:
        areas = [len(at.areas_um) for at in inputs.articles]
        few = tuple(i for i, count in enumerate(areas) if count < AREAS_OF_A_LARGE_ARTICLE)
        counts.append(
            count_check(AREAS_OF_A_LARGE_ARTICLE, min(areas), name="areas an article", clause=CLAUSE, unit="areas",
                        counted_in="article", short=few,
                        sentence="Every article over 2 m² has three reference areas at least.")
        )  # fmt: skip
    if sample is not None and inputs.size != UNDER_10_CM2:
        counts.append(
            count_check(sample, len(inputs.articles), name="control sample", clause="ISO 1461 (from memory)",
                        unit="articles", counted_in="article",
                        sentence="As many articles were inspected as the lot asks for.")
        )  # fmt: skip
    return counts


def _notes(inputs: GalvanizingIn, every: Sequence[Fraction], local: Fraction, sample: int | None) -> tuple[str, ...]:
    notes = []
    if sample is None:
        notes.append("The size of the lot is not given: whether so many articles are enough was not judged.")
    below = sum(area < local for area in every)
    if inputs.size == OVER_2_M2 and below:
        notes.append(f"{counted(below, 'reference area')} below the local thickness: shown, and not judged for an "
                     "article over 2 m².")  # fmt: skip
    if inputs.size == UNDER_10_CM2:
        notes.append("A reference area is made of as many articles as together have 10 cm²; of more than five, one "
                     "reading each.")  # fmt: skip
    if sample is not None and inputs.size == UNDER_10_CM2:
        notes.append(f"The control sample counts articles ({sample}), and each reference area here is of several.")
    return tuple(notes)


@dataclass(frozen=True, kw_only=True)
class RepairIn:
    bare_places_cm2: tuple[Fraction, ...] = numbers("Bare places", unit="cm²", above=0, maximum=10**6, most=1000)
    article_m2: Fraction = number("Surface of the article", above=0, maximum=10**6)


@dataclass(frozen=True, kw_only=True)
class RepairOut(Judged):
    share_pct: Fraction = result("Bare, of the surface", unit="%")
    advice: str = result("Advice")


REPAIR_CLAUSE = "ISO 1461 (2009), repair"
MOST_BARE_PCT = Fraction(1, 2)
LARGEST_PLACE_CM2 = 10
CM2_PER_M2 = 10_000


@calculation(
    "galvanizing-repair",
    title="Galvanizing: may bare places be repaired (ISO 1461)",
    group="Thickness",
    sources=(REPAIR,),
    caution="Limits of the 2009 edition. How a place is repaired, and with what, is agreed with the buyer.",
    example={"bare_places_cm2": [8, 8, 8, 8, 8], "article_m2": 1},
)
def galvanizing_repair(inputs: RepairIn) -> RepairOut:
    """Bare places may be repaired up to 10 cm² each and 0.5 % of the article's surface together, limits included.

    Places in cm², the article in m². The verdict is "pass" where repair is allowed.
    """
    share = 100 * sum(inputs.bare_places_cm2, Fraction(0)) / (inputs.article_m2 * CM2_PER_M2)
    large = tuple(i for i, place in enumerate(inputs.bare_places_cm2) if place > LARGEST_PLACE_CM2)
    largest = max(inputs.bare_places_cm2)
    checks = (
        Check("each place", REPAIR_CLAUSE, "No bare place is larger than 10 cm².", LARGEST_PLACE_CM2, largest,
              not large, large or (inputs.bare_places_cm2.index(largest),), "cm²", "place"),
        Check("all places", REPAIR_CLAUSE, "Bare places together are at most 0.5 % of the surface.", MOST_BARE_PCT,
              share, share <= MOST_BARE_PCT, (), "%", "place"),
    )  # fmt: skip
    allowed = all(check.passed for check in checks)
    advice = (
        "Repair, to 100 µm at least unless the buyer says otherwise." if allowed
        else f"Galvanize again, unless otherwise agreed: {shown(share)} % bare, largest place {shown(largest)} cm²."
    )  # fmt: skip
    return RepairOut(verdict=judged(checks), rule="ISO 1461, repair", edition="2009", checks=checks, share_pct=share,
                     advice=advice)  # fmt: skip
