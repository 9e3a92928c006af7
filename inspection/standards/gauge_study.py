"""Repeatability and reproducibility of a gauge in the hands of several operators, by analysis of variance."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.registry import (
    Fault,
    InputFault,
    Source,
    calculation,
    items,
    number,
    result,
    text,
    thickness,
    thickness_lists,
)
from inspection.standards.thickness import mean
from inspection.standards.thickness import total as total_of

ANOVA = Source(
    "AIAG MSA", "4th edition, training data in a public test suite", "analysis of variance method", "stored source"
)
RATIO = Source("AIAG MSA", "spreadsheet pages: 1.41 PV / GRR; below 10 %, to 30 %; at least 5", "", "stored source")
STEEL = Source("Coated steel is no stable part", "use shims or marked panels", "", "common practice, no source")

CATEGORIES = 1.41
GOOD_PCT, USABLE_PCT = 10, 30
FEWEST_CATEGORIES = 5
SPREAD = 6
"""The tolerance is compared with six standard deviations (another convention is 5.15: never mix them)."""


@dataclass(frozen=True, kw_only=True)
class OperatorIn:
    operator: str | None = text("Operator", optional=True)
    parts_um: tuple[tuple[Fraction, ...], ...] = thickness_lists(
        "Readings", most=1000, help="A group is a part, always in the same order."
    )


@dataclass(frozen=True, kw_only=True)
class StudyIn:
    operators: tuple[OperatorIn, ...] = items("Operators", OperatorIn, fewest=2, most=50)
    tolerance_um: Fraction | None = thickness(
        "Width of the tolerance", above=0, optional=True,
        help="Upper less lower limit; a limit on one side only has no width: leave it out.",
    )  # fmt: skip
    pool_above_p: Fraction | None = number(
        "Leave out the interaction when its p is above", above=0, maximum=1, optional=True,
        help="Empty: it always stays. 0.25 and 0.05 are both in use: say which your procedure has.",
    )  # fmt: skip

    def __post_init__(self) -> None:
        parts, trials = len(self.operators[0].parts_um), len(self.operators[0].parts_um[0])
        faults = []
        for index, by in enumerate(self.operators):
            name = f"operators[{index}].parts_um"
            if len(by.parts_um) != parts:
                faults.append(Fault(name, f"has {len(by.parts_um)} parts; the first operator measured {parts}"))
            if any(len(readings) != trials for readings in by.parts_um):
                faults.append(Fault(name, f"every part needs the same number of readings: {trials} as the first has"))
        if parts < 2:
            faults.append(Fault("operators[0].parts_um", "give at least two parts, a line for each"))
        if trials < 2:
            faults.append(Fault("operators[0].parts_um", "give at least two readings of each part"))
        if faults:
            raise InputFault(faults)


@dataclass(frozen=True, kw_only=True)
class VarianceRow:
    source: str
    sum_of_squares: float
    degrees_of_freedom: int
    mean_square: float | None = None
    f: float | None = None
    p: float | None = None


@dataclass(frozen=True, kw_only=True)
class StudyRow:
    part_of_variation: str
    standard_deviation_um: float
    share_of_variance_pct: float
    share_of_total_variation_pct: float
    share_of_tolerance_pct: float | None = None


@dataclass(frozen=True, kw_only=True)
class StudyOut:
    grr_um: float = result("Repeatability and reproducibility together (GRR)")
    grr_pct: float = result("GRR of the total variation", unit="%")
    grr_of_tolerance_pct: float | None = result("GRR of the tolerance, 6 s", unit="%", optional=True)
    distinct_categories: int | None = result("Distinct categories", optional=True)
    judgement: str = result("By the usual limits, of the total variation")
    judgement_of_tolerance: str | None = result("By the usual limits, of the tolerance", optional=True)
    parts: tuple[StudyRow, ...] = result("Where the variation comes from")
    analysis: tuple[VarianceRow, ...] = result("Analysis of variance (squares in µm²)")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "gauge-repeatability-reproducibility",
    title="Repeatability and reproducibility of a gauge",
    group="Metrology",
    sources=(ANOVA, RATIO, STEEL),
    caution="Painted steel is no stable part: use shims or panels with marked places, or its own unevenness is laid on "
    "the operators. Percent of the total variation depends on how different the chosen parts are. Shares of variation "
    "do not add to 100 %; shares of variance do.",
    example={"operators": [
        {"operator": "A", "parts_um": [[101, 102], [150, 151], [199, 201]]},
        {"operator": "B", "parts_um": [[103, 102], [152, 151], [202, 201]]},
    ], "pool_above_p": 0.25},
)  # fmt: skip
def gauge_repeatability_reproducibility(inputs: StudyIn) -> StudyOut:
    """Variance of repeated readings, operators, their interaction with parts, and parts: balanced two-way ANOVA.

    At least two operators, parts and readings of each, in µm or mil; parts and operators are random factors. A negative
    estimate of a variance counts as none and is named in the notes. Equal readings everywhere leave nothing to
    study and are refused.
    """
    analysis = _analysis([by.parts_um for by in inputs.operators])
    rows, pooled = _table(analysis, inputs.pool_above_p)
    variances, negative = _variances(analysis, pooled=pooled)
    grr = math.fsum(variance for name, variance in variances.items() if name != "parts")
    total = grr + variances["parts"]
    if not total:
        raise InputFault.at("operators", "all readings are alike: there is no variation to study")
    tolerance = None if inputs.tolerance_um is None else float(inputs.tolerance_um)
    grr_pct = 100 * math.sqrt(grr / total)
    of_tolerance = None if tolerance is None else 100 * SPREAD * math.sqrt(grr) / tolerance
    return StudyOut(
        grr_um=math.sqrt(grr),
        grr_pct=grr_pct,
        grr_of_tolerance_pct=of_tolerance,
        distinct_categories=_categories(variances["parts"], grr),
        judgement=_judgement(grr_pct),
        judgement_of_tolerance=None if of_tolerance is None else _judgement(of_tolerance),
        parts=_shares(variances, total, tolerance),
        analysis=tuple(rows),
        notes=_notes(negative, pooled=pooled, categories=_categories(variances["parts"], grr)),
    )


@dataclass(frozen=True, kw_only=True)
class Analysis:
    """Sums of squares with their degrees of freedom, and the sizes of the study."""

    operators: int
    parts: int
    trials: int
    squares: dict[str, float]
    freedom: dict[str, int]

    def mean_square(self, name: str) -> float:
        return self.squares[name] / self.freedom[name]


def _analysis(data: Sequence[Sequence[Sequence[Fraction]]]) -> Analysis:
    """Exact sums, so that equal readings leave no scatter at all and not a rounding error to divide by."""
    operators, parts, trials = len(data), len(data[0]), len(data[0][0])
    cells = [[mean(part) for part in by] for by in data]
    by_operator = [mean(row) for row in cells]
    by_part = [mean([row[index] for row in cells]) for index in range(parts)]
    grand = mean(by_operator)
    within = sum_of_squares(
        value - cells[o][p] for o, by in enumerate(data) for p, part in enumerate(by) for value in part
    )
    between = sum_of_squares(
        cells[o][p] - by_operator[o] - by_part[p] + grand for o in range(operators) for p in range(parts)
    )
    return Analysis(
        operators=operators,
        parts=parts,
        trials=trials,
        squares={
            "parts": operators * trials * sum_of_squares(value - grand for value in by_part),
            "operators": parts * trials * sum_of_squares(value - grand for value in by_operator),
            "interaction": trials * between,
            "repeatability": within,
        },
        freedom={
            "parts": parts - 1,
            "operators": operators - 1,
            "interaction": (parts - 1) * (operators - 1),
            "repeatability": parts * operators * (trials - 1),
        },
    )


def sum_of_squares(deviations: Iterable[Fraction]) -> float:
    return float(total_of([deviation**2 for deviation in deviations]))


def _pooled_error(analysis: Analysis) -> tuple[float, int]:
    names = ("interaction", "repeatability")
    return math.fsum(analysis.squares[name] for name in names), sum(analysis.freedom[name] for name in names)


def _table(analysis: Analysis, pool_above_p: Fraction | None) -> tuple[list[VarianceRow], bool]:
    """The rows of the analysis, and whether the interaction was joined with repeatability."""
    error, error_freedom = analysis.mean_square("repeatability"), analysis.freedom["repeatability"]
    interaction = _row("interaction", analysis, error, error_freedom)
    pooled = pool_above_p is not None and interaction.p is not None and interaction.p > pool_above_p
    if pooled:
        squares, against_freedom = _pooled_error(analysis)
        against = squares / against_freedom
        last = [VarianceRow(source="repeatability with interaction", sum_of_squares=squares,
                            degrees_of_freedom=against_freedom, mean_square=against)]  # fmt: skip
    else:
        against, against_freedom = analysis.mean_square("interaction"), analysis.freedom["interaction"]
        last = [interaction, VarianceRow(source="repeatability", sum_of_squares=analysis.squares["repeatability"],
                                         degrees_of_freedom=error_freedom, mean_square=error)]  # fmt: skip
    rows = [_row(name, analysis, against, against_freedom) for name in ("parts", "operators")] + last
    whole = VarianceRow(source="total", sum_of_squares=math.fsum(analysis.squares.values()),
                        degrees_of_freedom=sum(analysis.freedom.values()))  # fmt: skip
    return [*rows, whole], pooled


def _row(name: str, analysis: Analysis, against: float, against_freedom: int) -> VarianceRow:
    """One source of variation with its F against another mean square; none where that is nothing."""
    from scipy.stats import f  # noqa: PLC0415 - takes most of a second to load: only where a statistic needs it

    freedom, mean_square = analysis.freedom[name], analysis.mean_square(name)
    ratio = mean_square / against if against else None
    if ratio is not None and not math.isfinite(ratio):
        ratio = None
    return VarianceRow(
        source=name, sum_of_squares=analysis.squares[name], degrees_of_freedom=freedom, mean_square=mean_square,
        f=ratio, p=None if ratio is None else float(f.sf(ratio, freedom, against_freedom)),
    )  # fmt: skip


def _variances(analysis: Analysis, *, pooled: bool) -> tuple[dict[str, float], list[str]]:
    """Estimates of the variances, and which came out negative and count as none."""
    trials = analysis.trials
    if pooled:
        squares, freedom = _pooled_error(analysis)
        error = against = squares / freedom
    else:
        error, against = analysis.mean_square("repeatability"), analysis.mean_square("interaction")
    found = {
        "repeatability": error,
        "operators": (analysis.mean_square("operators") - against) / (analysis.parts * trials),
        "interaction": 0.0 if pooled else (against - error) / trials,
        "parts": (analysis.mean_square("parts") - against) / (analysis.operators * trials),
    }
    return {name: max(value, 0.0) for name, value in found.items()}, [n for n, value in found.items() if value < 0]


def _shares(variances: dict[str, float], total: float, tolerance: float | None) -> tuple[StudyRow, ...]:
    reproducibility = variances["operators"] + variances["interaction"]
    named = {
        "repeatability (equipment)": variances["repeatability"],
        "reproducibility (operators and interaction)": reproducibility,
        "of it the interaction of operators and parts": variances["interaction"],
        "repeatability and reproducibility": variances["repeatability"] + reproducibility,
        "parts": variances["parts"],
        "total": total,
    }
    return tuple(
        StudyRow(
            part_of_variation=name,
            standard_deviation_um=math.sqrt(variance),
            share_of_variance_pct=100 * variance / total,
            share_of_total_variation_pct=100 * math.sqrt(variance / total),
            share_of_tolerance_pct=None if tolerance is None else 100 * SPREAD * math.sqrt(variance) / tolerance,
        )
        for name, variance in named.items()
    )


def _categories(parts: float, grr: float) -> int | None:
    """Whole classes of parts that the gauge tells apart; None where it shows no variation of its own."""
    ratio = CATEGORIES * math.sqrt(parts / grr) if grr > 0 else math.inf
    return math.floor(ratio) if math.isfinite(ratio) else None


def _judgement(pct: float) -> str:
    if pct < GOOD_PCT:
        return "under 10 %: good"
    return "10 to 30 %: usable on conditions" if pct <= USABLE_PCT else "over 30 %: not fit for this use"


def _notes(negative: Sequence[str], *, pooled: bool, categories: int | None) -> tuple[str, ...]:
    notes = [f"The estimate for {name} came out negative and counts as none." for name in negative]
    if pooled:
        notes.append("The interaction was joined with repeatability, as its p is above the declared one.")
    if categories is not None and categories < FEWEST_CATEGORIES:
        notes.append(f"Fewer than {FEWEST_CATEGORIES} distinct categories: the gauge tells these parts apart badly.")
    return tuple(notes)
