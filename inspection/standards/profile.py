"""Surface profile: grades, the correction of thickness readings, and what each way of measuring averages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations

from inspection.standards.registry import (
    Check,
    InputFault,
    Judged,
    Source,
    calculation,
    choice,
    judged,
    number,
    numbers,
    result,
    thickness,
    thickness_lists,
    thicknesses,
)

ISO_8503 = Source("ISO 8503-1 and -2", "segments from the data sheet of a standard comparator", "", "stored source")
ISO_19840_MEASURED = Source("ISO 19840", "2012, medium 25 µm and coarse 40 µm", "7", "stored source")
ISO_19840_RECALLED = Source("ISO 19840", "2012, fine 10 µm and unknown 25 µm", "7", "from memory")
D4417_B = Source("ASTM D4417", "2014, method B: the maximum of ten readings a location; mean of the maxima", "",
                 "stored source")  # fmt: skip
D4417_B_MEAN = Source("Trade magazine, 2018", "method B: the mean of ten readings as the value of a location", "",
                      "stored source")  # fmt: skip
D4417_C = Source("ASTM D4417", "method C: two replicas within 0.2 mil, else a third", "", "from memory")
ISO_8503_4 = Source("ISO 8503-4", "stylus, range 20 to 200 µm", "abstract", "stored source")
STYLUS_LENGTHS = Source("ISO 8503-4", "mean of the heights of five sampling lengths", "", "from memory")

SEGMENTS_UM = {"grit": (25, 60, 100, 150), "shot": (25, 40, 70, 100)}
GRADES = ("finer than fine", "fine", "medium", "coarse", "coarser than coarse")
CORRECTIONS_UM = {"fine": 10, "medium": 25, "coarse": 40, "unknown": 25}
READINGS_A_LOCATION = 10
REPLICAS_AGREE_UM = Fraction(508, 100)  # 0.2 mil: the limit is written in mil
STYLUS_RANGE_UM = (20, 200)
SAMPLING_LENGTHS = 5


@dataclass(frozen=True, kw_only=True)
class GradeIn:
    profile_um: Fraction = thickness("Profile height")
    abrasive: str = choice("Abrasive", ("grit", "shot"))


@dataclass(frozen=True, kw_only=True)
class GradeOut:
    grade: str = result("Grade")
    from_um: Fraction | None = result("From", optional=True)
    below_um: Fraction | None = result("Below", optional=True)


@calculation(
    "profile-grade",
    title="Profile grade",
    group="Surface",
    sources=(ISO_8503,),
    example={"profile_um": 65, "abrasive": "grit"},
    caution="Grades are defined for Sa 2½ and Sa 3 only. The comparator is judged by eye and touch, at most ×7.",
)
def profile_grade(inputs: GradeIn) -> GradeOut:
    """The grade of a profile: each reaches from its comparator segment up to, but not including, the next."""
    segments = SEGMENTS_UM[inputs.abrasive]
    step = sum(inputs.profile_um >= segment for segment in segments)
    return GradeOut(
        grade=GRADES[step],
        from_um=Fraction(segments[step - 1]) if step else None,
        below_um=Fraction(segments[step]) if step < len(segments) else None,
    )


@dataclass(frozen=True, kw_only=True)
class CorrectionIn:
    grade: str = choice("Profile grade", tuple(CORRECTIONS_UM))
    gauge_adjusted_on: str = choice(
        "Gauge was adjusted on", ("smooth steel", "blasted surface"), default="smooth steel"
    )


@dataclass(frozen=True, kw_only=True)
class CorrectionOut:
    correction_um: Fraction = result("Subtract from every reading")


@calculation(
    "profile-correction",
    title="Correction of readings for profile",
    group="Surface",
    sources=(ISO_19840_MEASURED, ISO_19840_RECALLED),
    example={"grade": "medium"},
    caution="For a gauge adjusted on smooth steel only. After adjusting on the blasted surface (Annex A) it is 0, "
    "or the profile is subtracted twice; a value found by Annex D replaces it.",
)
def profile_correction(inputs: CorrectionIn) -> CorrectionOut:
    """What ISO 19840 subtracts from every thickness reading because the gauge also sees the profile."""
    on_smooth = inputs.gauge_adjusted_on == "smooth steel"
    return CorrectionOut(correction_um=Fraction(CORRECTIONS_UM[inputs.grade] if on_smooth else 0))


@dataclass(frozen=True, kw_only=True)
class ComparatorIn:
    abrasive: str = choice("Abrasive", ("grit", "shot"))
    segments: tuple[int, ...] = numbers(
        "Roughest segment each place reaches",
        help="1 to 4 for a segment the surface is at least as rough as; 0 when it is smoother than segment 1.",
        minimum=0,
        maximum=4,
    )
    required_grade: str | None = choice("Grade asked for", ("fine", "medium", "coarse"), optional=True)


@dataclass(frozen=True, kw_only=True)
class ComparatorOut(Judged):
    grades: tuple[str, ...] = result("Grade of each place")
    grade: str = result("Grade of the surface")


@calculation(
    "profile-comparator",
    title="Profile by comparator",
    group="Surface",
    sources=(ISO_8503,),
    example={"abrasive": "grit", "segments": [2, 2, 2], "required_grade": "medium"},
    caution="A judgement by eye and touch. If in doubt, or for disputes, measure.",
)
def profile_comparator(inputs: ComparatorIn) -> ComparatorOut:
    """Grades of places compared with the reference comparator; they are listed, never averaged (ISO 8503-2)."""
    grades = tuple(GRADES[segment] for segment in inputs.segments)
    checks = []
    if inputs.required_grade is not None:
        other = tuple(index for index, grade in enumerate(grades) if grade != inputs.required_grade)
        sentence = "Every place must have the grade asked for."
        checks.append(
            Check("profile grade", "ISO 8503-2", sentence, inputs.required_grade, _grade_of(grades), not other,
                  other, counted_in="place")
        )  # fmt: skip
    return ComparatorOut(
        verdict=judged(checks) if checks else "not judged",
        rule="ISO 8503 comparator",
        edition="",
        checks=tuple(checks),
        grades=grades,
        grade=_grade_of(grades),
    )


def _grade_of(grades: Sequence[str]) -> str:
    return grades[0] if len(set(grades)) == 1 else "mixed"


@dataclass(frozen=True, kw_only=True)
class LimitsIn:
    """Limits a specification sets for the profile; without them nothing is judged."""

    minimum_um: Fraction | None = thickness("Least profile", optional=True)
    maximum_um: Fraction | None = thickness("Greatest profile", optional=True)

    def __post_init__(self) -> None:
        if self.minimum_um is not None and self.maximum_um is not None and self.minimum_um > self.maximum_um:
            raise InputFault.at("maximum_um", "must not be below minimum_um")


def _limit_checks(values: Sequence[Fraction], limits: LimitsIn, what: str, counted_in: str) -> list[Check]:
    checks = []
    if limits.minimum_um is not None:
        low = tuple(i for i, value in enumerate(values) if value < limits.minimum_um)
        sentence = f"No {what} may be below the least profile specified."
        checks.append(
            Check("least profile", "specification", sentence, limits.minimum_um, min(values), not low,
                  low or _at(values, min(values)), "um", counted_in)
        )  # fmt: skip
    if limits.maximum_um is not None:
        high = tuple(i for i, value in enumerate(values) if value > limits.maximum_um)
        sentence = f"No {what} may be above the greatest profile specified."
        checks.append(
            Check("greatest profile", "specification", sentence, limits.maximum_um, max(values), not high,
                  high or _at(values, max(values)), "um", counted_in)
        )  # fmt: skip
    return checks


def _at(values: Sequence[Fraction], value: Fraction) -> tuple[int, ...]:
    return (values.index(value),)


def _verdict(limits: Sequence[Check], *, complete: bool) -> str:
    """By the limits on single locations: one of them may fail an incomplete set, none can pass it."""
    if limits and judged(limits) == "fail":
        return "fail"
    if not complete:
        return "incomplete"
    return judged(limits) if limits else "not judged"


def _mean_verdict(limits: Sequence[Check], *, complete: bool) -> str:
    """By the limits on a mean, which more values may still move."""
    if not complete:
        return "incomplete"
    return judged(limits) if limits else "not judged"


@dataclass(frozen=True, kw_only=True)
class ReplicaIn(LimitsIn):
    gauge_readings_um: tuple[Fraction, ...] | None = thicknesses(
        "Micrometer readings over tape and backing", optional=True, fewest=2, most=3
    )
    backing_um: Fraction | None = thickness(
        "Film backing", help="50 µm or 2.0 mil for the usual tape: use the figure on the pack.", optional=True
    )
    heights_um: tuple[Fraction, ...] | None = thicknesses(
        "Heights, backing already subtracted", optional=True, fewest=2, most=3
    )
    agreement_um: Fraction = thickness("Readings agree within", default=REPLICAS_AGREE_UM)

    def __post_init__(self) -> None:
        super().__post_init__()
        if (self.gauge_readings_um is None) == (self.heights_um is None):
            raise InputFault.at("gauge_readings_um", "give either gauge_readings_um with backing_um, or heights_um")
        if self.heights_um is not None:
            if self.backing_um is not None:
                raise InputFault.at("backing_um", "is already subtracted in heights_um: leave it out")
            return
        if self.backing_um is None:
            raise InputFault.at("backing_um", "is needed: 50 µm or 2.0 mil for the usual tape")
        for index, reading in enumerate(self.gauge_readings_um or ()):
            if reading < self.backing_um:
                raise InputFault.at(f"gauge_readings_um[{index}]", "must not be thinner than the backing alone")


@dataclass(frozen=True, kw_only=True)
class ReplicaOut(Judged):
    heights_um: tuple[Fraction, ...] = result("Heights")
    agree: bool = result("Readings agree")
    location_mean_um: Fraction | None = result("Profile of the location", optional=True)
    next_step: str = result("What to do")


@calculation(
    "profile-replica",
    title="Profile by replica tape",
    group="Surface",
    sources=(D4417_C, Source("ISO 8503-5", "2003, backing 50 µm subtracted", "", "from memory")),
    example={"gauge_readings_um": [112, 116], "backing_um": 50},
    caution="The micrometer is zeroed without tape. Choose a tape grade whose range holds the profile.",
)
def profile_replica(inputs: ReplicaIn) -> ReplicaOut:
    """Mean of two replicas of one location that agree within 0.2 mil; otherwise a third decides (ASTM D4417 C).

    With three replicas the mean is of the two that lie closest together, if these agree; else the location has
    no value. Where two pairs lie equally close, all three count (own rule), so that the order in which they were read
    makes no difference. The rule of the third replica is recalled, not seen: check your edition.
    """
    if inputs.heights_um is not None:
        heights = inputs.heights_um
    else:
        heights = tuple(reading - (inputs.backing_um or 0) for reading in inputs.gauge_readings_um or ())
    apart, closest = _closest(heights)
    agree = apart <= inputs.agreement_um
    mean = _mean([heights[index] for index in closest]) if agree else None
    sentence = "Two replicas of the location must agree this closely."
    checks = [
        Check("agreement of replicas", "ASTM D4417, method C (from memory)", sentence, inputs.agreement_um, apart,
              agree, closest, "um", "replica")
    ]  # fmt: skip
    if mean is not None:
        checks += _limit_checks([mean], inputs, "location", "location")
    return ReplicaOut(
        verdict=judged(checks) if agree else "undecided",
        rule="ASTM D4417 method C",
        edition="",
        checks=tuple(checks),
        heights_um=heights,
        agree=agree,
        location_mean_um=mean,
        next_step=_replica_step(agree, len(heights)),
    )


def _closest(heights: Sequence[Fraction]) -> tuple[Fraction, tuple[int, ...]]:
    """How far the two closest heights lie apart, and the places of all that belong to a pair so close."""
    apart = {pair: abs(heights[pair[0]] - heights[pair[1]]) for pair in combinations(range(len(heights)), 2)}
    least = min(apart.values())
    return least, tuple(sorted({place for pair, distance in apart.items() if distance == least for place in pair}))


def _replica_step(agree: bool, count: int) -> str:
    if agree:
        return "The location has its value."
    if count == 2:
        return "Take a third replica at this location."
    return "No two of three replicas agree: discard them, check the micrometer and tape, and start again close by."


@dataclass(frozen=True, kw_only=True)
class DepthIn(LimitsIn):
    locations_um: tuple[tuple[Fraction, ...], ...] = thickness_lists("Readings of each location")
    location_value: str = choice(
        "Value of a location", ("mean", "maximum"), help="Editions of ASTM D4417 differ: follow your contract."
    )


@dataclass(frozen=True, kw_only=True)
class DepthOut(Judged):
    statistic: str = result("Value of a location is")
    location_values_um: tuple[Fraction | None, ...] = result("Value of each location")
    mean_um: Fraction | None = result("Mean of the locations", optional=True)
    lowest_um: Fraction | None = result("Lowest location", optional=True)
    highest_um: Fraction | None = result("Highest location", optional=True)


@calculation(
    "profile-depth-micrometer",
    title="Profile by depth micrometer",
    group="Surface",
    sources=(D4417_B, D4417_B_MEAN),
    example={"locations_um": [[55, 61, 48, 66, 70, 59, 52, 63, 58, 60]], "location_value": "mean"},
    caution="For flat surfaces. Mean and maximum differ much: a specification must say which it means.",
)
def profile_depth_micrometer(inputs: DepthIn) -> DepthOut:
    """Value of each location (mean or maximum of at least ten readings), their range and mean; ASTM D4417 B.

    Which of the two is declared, and kept with the answer. A location of fewer readings has no value: the set is then
    incomplete, unless another location lies outside the limits by itself. Without limits nothing is judged.
    """
    pick = max if inputs.location_value == "maximum" else _mean
    full = [len(readings) >= READINGS_A_LOCATION for readings in inputs.locations_um]
    values = [pick(readings) if enough else None for readings, enough in zip(inputs.locations_um, full, strict=True)]
    known = [value for value in values if value is not None]
    places = [index for index, enough in enumerate(full) if enough]
    sentence = "Every location needs at least this many readings."
    count = Check("readings a location", "ASTM D4417, method B", sentence, READINGS_A_LOCATION,
                  min(len(readings) for readings in inputs.locations_um), all(full),
                  tuple(index for index, enough in enumerate(full) if not enough), counted_in="location")  # fmt: skip
    limits = [replace(check, decided_by=tuple(places[index] for index in check.decided_by))
              for check in (_limit_checks(known, inputs, "location", "location") if known else [])]  # fmt: skip
    return DepthOut(
        verdict=_verdict(limits, complete=all(full)),
        rule=f"ASTM D4417 method B, {inputs.location_value} of a location",
        edition="",
        checks=(count, *limits),
        statistic=f"{inputs.location_value} of at least {READINGS_A_LOCATION} readings",
        location_values_um=tuple(values),
        mean_um=_mean(known) if known else None,
        lowest_um=min(known, default=None),
        highest_um=max(known, default=None),
    )


def _mean(values: Sequence[Fraction]) -> Fraction:
    return sum(values, Fraction(0)) / len(values)


@dataclass(frozen=True, kw_only=True)
class StylusIn(LimitsIn):
    traces_um: tuple[tuple[Fraction, ...], ...] = thickness_lists(
        "Peak-to-valley height of each sampling length, trace by trace"
    )
    fewest_traces: int | None = number(
        "Traces asked for", help="The number in ISO 8503-4 is not known here: declare it.", minimum=1, maximum=1000,
        optional=True,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class StylusOut(Judged):
    trace_means_um: tuple[Fraction, ...] = result("Mean of each trace")
    mean_um: Fraction = result("Profile")


@calculation(
    "profile-stylus",
    title="Profile by stylus instrument",
    group="Surface",
    sources=(ISO_8503_4, STYLUS_LENGTHS),
    example={"traces_um": [[52, 60, 57, 49, 66], [61, 58, 70, 55, 62]]},
    caution="Stylus, replica and micrometer do not give the same number on the same surface: never mix them in a mean.",
)
def profile_stylus(inputs: StylusIn) -> StylusOut:
    """Mean over traces of the mean peak-to-valley height of their sampling lengths; ISO 8503-4, 20 to 200 µm.

    Outside that range, and with traces of other than five sampling lengths, the method does not reach: the profile is
    not judged. With fewer traces than asked for the set is incomplete. Without limits nothing is judged.
    """
    means = [_mean(trace) for trace in inputs.traces_um]
    mean = _mean(means)
    other = tuple(i for i, trace in enumerate(inputs.traces_um) if len(trace) != SAMPLING_LENGTHS)
    low, high = STYLUS_RANGE_UM
    reaches = [
        Check("sampling lengths a trace", "ISO 8503-4 (from memory)", "Every trace has this many sampling lengths.",
              SAMPLING_LENGTHS, len(inputs.traces_um[other[0] if other else 0]), not other, other, counted_in="trace"),
        Check("range of the method", "ISO 8503-4", "The profile must lie in the range of the method.",
              Fraction(high if mean > low else low), mean, low <= mean <= high, unit="um"),
    ]  # fmt: skip
    counts = []
    if inputs.fewest_traces is not None:
        sentence = "At least the declared number of traces is needed."
        counts.append(
            Check("number of traces", "ISO 8503-4 (number declared)", sentence, inputs.fewest_traces, len(means),
                  len(means) >= inputs.fewest_traces, counted_in="trace")
        )  # fmt: skip
    limits = _limit_checks([mean], inputs, "profile", "location")
    reached = all(check.passed for check in reaches)
    complete = all(check.passed for check in counts)
    return StylusOut(
        verdict=_mean_verdict(limits, complete=complete) if reached else "not judged",
        rule="ISO 8503-4 stylus",
        edition="",
        checks=(*reaches, *counts, *limits),
        trace_means_um=tuple(means),
        mean_um=mean,
    )
