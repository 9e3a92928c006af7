"""What a rule says of a set of readings: the bridge from stored nanometres to the standards core and back.

Nothing here touches the database; the sheet page, the preview of a file and the recording itself all judge through it.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from functools import cached_property
from typing import Any, NamedTuple

from inspection.fieldwork.models import ThicknessRecord
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.units import in_unit, um
from inspection.projects.limits import Limits
from inspection.projects.models import Coat, InspectionArea
from inspection.projects.tank_sizes import counted
from inspection.standards import InputFault, calculate
from inspection.standards.pa2_spots import LEVELS, READINGS_PER_SPOT, SPOTS_PER_AREA
from inspection.standards.thickness_imo import FLOOR_PCT as IMO_FLOOR_PCT
from inspection.standards.thickness_iso19840 import FLOOR_PCT as ISO_FLOOR_PCT


class ReadingSent(NamedTuple):
    """One gauge reading as the gauge showed it. `order` counts from 1 within its spot."""

    spot: int
    order: int
    value_nm: int
    taken_at: datetime | None = None
    void_reason: str = ""


@dataclass(frozen=True)
class Plan:
    """How much the coat's rule wants measured on the area."""

    readings: int
    areas: int = 0
    repeats_allowed: int | None = None

    @property
    def by_spots(self) -> bool:
        return bool(self.areas)

    @property
    def spots(self) -> int:
        """Places to measure: spots of several readings where the rule judges spots, else one for each reading."""
        return self.areas * SPOTS_PER_AREA if self.by_spots else self.readings

    @property
    def readings_a_spot(self) -> int:
        return READINGS_PER_SPOT if self.by_spots else 1


class Spot(NamedTuple):
    """The readings of one spot that count, as shown by the gauge, and whether a discard still lacks its repeat."""

    number: int
    shown_nm: tuple[int, ...]
    correction_nm: int
    voided: int
    repeat_missing: bool

    @property
    def area(self) -> int:
        return area_of_spot(self.number)

    @property
    def mean_nm(self) -> Fraction | None:
        """Mean of the corrected readings."""
        return Fraction(sum(self.shown_nm), len(self.shown_nm)) - self.correction_nm if self.shown_nm else None

    @property
    def wanting(self) -> int:
        """Readings this spot, once begun, still lacks under SSPC-PA 2."""
        return max(READINGS_PER_SPOT - len(self.shown_nm), int(self.repeat_missing))


@dataclass(frozen=True)
class Answer:
    """What a rule said, and the digest of all it was given to say it of."""

    of: str
    result: dict[str, Any]


@dataclass(frozen=True)
class Judgement:
    calculation: str
    inputs: dict[str, Any]
    result: dict[str, Any]
    plan: Plan
    spots: tuple[Spot, ...]

    @property
    def answer(self) -> Answer:
        """To be handed on to who judges the same again."""
        return Answer(_asked(self.calculation, self.inputs), self.result)

    @cached_property
    def values_nm(self) -> list[int]:
        """Every reading that counts, corrected."""
        return [value - spot.correction_nm for spot in self.spots for value in spot.shown_nm]

    @property
    def still_wanted(self) -> int:
        return still_wanted(self.plan, self.spots)

    @property
    def verdict(self) -> str:
        return str(self.result["verdict"])

    @property
    def mean_nm(self) -> Fraction:
        """Mean of the spot means where the rule judges spots, else of all readings."""
        if self.plan.by_spots:
            # Added up for each number of readings apart, which spares a fraction a spot.
            sums: dict[int, int] = defaultdict(int)
            for spot in self.spots:
                sums[len(spot.shown_nm)] += sum(spot.shown_nm)
            measured = sum(bool(spot.shown_nm) for spot in self.spots)
            total = sum((Fraction(nm, count) for count, nm in sums.items() if count), Fraction(0))
            return total / measured - self.spots[0].correction_nm
        return Fraction(sum(self.values_nm), len(self.values_nm))


def area_of_spot(number: int) -> int:
    """The area of about 10 m² a spot belongs to: spots 1 to 5 are area 1, 6 to 10 area 2, and so on."""
    return (number - 1) // SPOTS_PER_AREA + 1


def plan_of(coat: Coat, area: InspectionArea) -> Plan:
    """How many readings the coat's rule wants on this area. Raises Refused for a size the standard does not cover."""
    area_m2 = float(area.area_m2)
    if coat.rule == Coat.Rule.PA2:
        found = _calculated("sampling-plan", {"standard": "SSPC-PA 2", "area_m2": area_m2})
        return Plan(readings=found["minimum_readings"], areas=found["areas_to_measure"])
    if coat.rule == Coat.Rule.ISO_19840:
        found = _calculated("sampling-plan", {"standard": "ISO 19840", "area_m2": area_m2})
        return Plan(readings=found["readings_required"], repeats_allowed=found["repeats_allowed"])
    if declared := coat.declaration:
        # Without a sampling table nothing says how many: what is measured is judged as the whole.
        return Plan(readings=declared.readings_asked(area.area_m2) or 1)
    # The least that annex 3 asks for of what is declared of the area; what is not declared comes on top, the page says.
    return Plan(readings=counted(area)["least_readings"])


def limits_of_one(coat: Coat) -> tuple[Fraction | None, Fraction | None]:
    """What the rule holds one spot mean (SSPC-PA 2) or one reading (any other) to, in nm: least and greatest.

    Each is None where the rule has none, or where what it is counted from was not specified of every coat.
    """
    minimum, nominal, maximum = through = coat.through
    if declared := coat.declaration:
        least, greatest = declared.each(through)
        return (None if least is None else Fraction(least)), (None if greatest is None else Fraction(greatest))
    if coat.rule == Coat.Rule.PA2:
        level = LEVELS[coat.pa2_level or 3]
        most = None
        if maximum is not None and level.spot_maximum_pct is not None:
            most = Fraction(maximum * level.spot_maximum_pct, 100)
        return _share(minimum, level.spot_minimum_pct), most
    floor = ISO_FLOOR_PCT if coat.rule == Coat.Rule.ISO_19840 else IMO_FLOOR_PCT
    return _share(nominal, floor), None if maximum is None else Fraction(maximum)


def _share(limit: int | None, pct: int) -> Fraction | None:
    return None if limit is None else Fraction(limit * pct, 100)


def spots_of(readings: Iterable[ReadingSent], correction_nm: int) -> tuple[Spot, ...]:
    counting: dict[int, list[tuple[int, int]]] = defaultdict(list)
    last_void: dict[int, int] = {}
    voided: dict[int, int] = defaultdict(int)
    for number, order, value_nm, _, void_reason in readings:
        if void_reason:
            last_void[number] = max(last_void.get(number, 0), order)
            voided[number] += 1
            counting[number]  # a spot whose readings are all voided is still a spot begun
        else:
            counting[number].append((order, value_nm))
    found = []
    for number, places in sorted(counting.items()):
        places.sort()
        last = places[-1][0] if places else 0
        shown = tuple([value for _, value in places])
        found.append(Spot(number, shown, correction_nm, voided.get(number, 0), last < last_void.get(number, 0)))
    return tuple(found)


def still_wanted(plan: Plan, spots: Sequence[Spot]) -> int:
    """How many readings the rule still wants: to fill the plan, every area begun, and to repeat what was discarded."""
    if not plan.by_spots:
        counted = sum(len(spot.shown_nm) for spot in spots)
        return max(plan.readings - counted, sum(spot.repeat_missing for spot in spots))
    areas = max(plan.areas, len({spot.area for spot in spots}))
    missing_spots = areas * SPOTS_PER_AREA - len(spots)
    return missing_spots * READINGS_PER_SPOT + sum(spot.wanting for spot in spots)


def judge(
    coat: Coat, area: InspectionArea, readings: Sequence[ReadingSent], correction_nm: int, known: Answer | None = None
) -> Judgement:
    """The verdict of the coat's rule, against the limits through all coats up to this one.

    An answer that is `known` is taken where it was given to the same question: whatever changed since, of the readings,
    the area, the coats or the plan, makes it another one, and the rule is asked again.

    Where a limit that the rule judges by is not specified of every coat, as when one below is kept of a revision
    under another rule, nothing is judged. Raises Refused when nothing is left to judge, or naming each reading that is
    thinner than what is subtracted.
    """
    spots = spots_of(readings, correction_nm)
    if not any(spot.shown_nm for spot in spots):
        raise Refused("No reading is left that counts; an area is judged on at least one.", field="readings")
    if correction_nm:
        _refuse_below_correction(readings, correction_nm)
    plan, through = plan_of(coat, area), coat.through
    taken = _from_readings(coat.rule, plan, spots, readings, correction_nm)
    if missing := _unspecified(coat, through):
        result = _not_judged(coat.rule_name, missing)
        return Judgement(coat.rule, {UNSPECIFIED: missing} | taken, result, plan, spots)
    inputs = _held_to(coat, area, through) | taken
    if known and known.of == _asked(coat.rule, inputs):
        return Judgement(coat.rule, inputs, known.result, plan, spots)
    return Judgement(coat.rule, inputs, _calculated(coat.rule, inputs), plan, spots)


def judge_again(record: ThicknessRecord, readings: Sequence[ReadingSent]) -> Judgement:
    """What the rule says now of a stored record: of its readings as they are, against the limits it was judged by.

    Raises Refused when nothing is left to judge, or the rule takes no such inputs.
    """
    spots = spots_of(readings, record.correction_nm)
    if not any(spot.shown_nm for spot in spots):
        raise Refused("No reading is left that counts.")
    by_spots = record.calculation == Coat.Rule.PA2
    areas = record.readings_wanted // (SPOTS_PER_AREA * READINGS_PER_SPOT) if by_spots else 0
    plan = Plan(record.readings_wanted, areas)
    limits = {name: given for name, given in record.inputs.items() if name not in READ_OFF}
    inputs = limits | _from_readings(record.calculation, plan, spots, readings, record.correction_nm)
    if missing := limits.get(UNSPECIFIED):
        return Judgement(record.calculation, inputs, _not_judged(record.result["rule"], missing), plan, spots)
    return Judgement(record.calculation, inputs, _calculated(record.calculation, inputs), plan, spots)


def judge_remainder(record: ThicknessRecord, readings: Sequence[ReadingSent], left_out: Collection[int]) -> Judgement:
    """What the same rule says of a stored record without the spots that lie in a part repaired since.

    They are made up for by the part's own measurement; what remains has to have been measured in full all the same.
    Raises Refused when nothing remains to judge.
    """
    rest = [reading for reading in readings if reading.spot not in left_out]
    spots, gone = spots_of(rest, record.correction_nm), spots_of(readings, record.correction_nm)
    if not any(spot.shown_nm for spot in spots):
        raise Refused("Every spot of the measurement lies within it; nothing remains to judge the rest of the area by.")
    gone = tuple(spot for spot in gone if spot.number in left_out)
    by_spots = record.calculation == Coat.Rule.PA2
    plan = Plan(record.readings_wanted, record.readings_wanted // (SPOTS_PER_AREA * READINGS_PER_SPOT) * by_spots)
    limits = {name: given for name, given in record.inputs.items() if name not in READ_OFF}
    taken = _from_readings(record.calculation, plan, spots, rest, record.correction_nm)
    if missing := limits.get(UNSPECIFIED):
        return Judgement(record.calculation, limits | taken, _not_judged(record.result["rule"], missing), plan, spots)
    if by_spots:
        _leave_out_of_areas(taken, plan, spots, gone)
    else:
        taken["left_out"] = sum(len(spot.shown_nm) for spot in gone)
    inputs = limits | taken
    return Judgement(record.calculation, inputs, _calculated(record.calculation, inputs), plan, spots)


def _leave_out_of_areas(taken: dict[str, Any], plan: Plan, spots: Sequence[Spot], gone: Sequence[Spot]) -> None:
    """Say of each area how many of its spots are left out; one of which nothing remains lies in the part as a whole."""
    remain = {spot.area for spot in spots}
    by_area = Counter(spot.area for spot in gone)
    for area in taken["areas"]:
        if left := by_area[int(area["name"].removeprefix("area "))]:
            area["left_out"] = left
    whole = max(plan.areas, len(remain | by_area.keys()))
    taken["areas_to_measure"] = max(1, whole - len(by_area.keys() - remain))


def _unspecified(coat: Coat, through: Limits) -> list[str]:
    """The limits that the rule judges by and that are not specified of every coat on the steel."""
    return [name for name, limit in through._asdict().items() if limit is None and name in coat.needs]


def _not_judged(rule: str, missing: Sequence[str]) -> dict[str, Any]:
    """In place of the rule's answer: no limit is guessed, and what was measured is kept all the same."""
    note = (
        f"{rule} judges by the {' and the '.join(missing)}, and not every coat up to this one has it specified: "
        "nothing was judged."
    )
    return {"verdict": ThicknessRecord.Verdict.NOT_JUDGED.value, "rule": rule, "checks": [], "notes": [note]}


def _held_to(coat: Coat, area: InspectionArea, through: Limits) -> dict[str, Any]:
    """What the coat's rule is given besides readings."""
    if declared := coat.declaration:
        return declared.inputs(through, area.area_m2)
    if coat.rule == Coat.Rule.PA2:
        return {"level": coat.pa2_level, **_limits(through, "minimum", "maximum")}
    if coat.rule == Coat.Rule.ISO_19840:
        return {**_limits(through, "nominal", "maximum"), "area_m2": float(area.area_m2)}
    return _limits(through, "nominal", "maximum")


# What stands among the inputs in place of limits, where some were not specified.
UNSPECIFIED = "unspecified"
# The inputs of a rule that come from the readings; the others are its limits.
READ_OFF = frozenset(
    {
        "areas",
        "areas_to_measure",
        "readings_um",
        "readings_required",
        "correction_um",
        "repeats",
        "repeats_missing",
        "left_out",
    }
)


def _from_readings(
    rule: str, plan: Plan, spots: Sequence[Spot], readings: Sequence[ReadingSent], correction_nm: int
) -> dict[str, Any]:
    if rule == Coat.Rule.PA2:
        return _pa2_inputs(plan, spots)
    if rule == Coat.Rule.ISO_19840:
        inputs = _iso19840_inputs(readings, correction_nm)
    else:
        inputs = {"readings_um": [um(value - spot.correction_nm) for spot in spots for value in spot.shown_nm]}
        if rule == Coat.Rule.IMO_PSPC:
            inputs["readings_required"] = plan.readings
    if missing := sum(spot.repeat_missing for spot in spots):
        inputs["repeats_missing"] = missing
    return inputs


def _limits(through: Limits, *names: str) -> dict[str, Any]:
    return {f"{name}_um": um(limit) for name in names if (limit := getattr(through, name)) is not None}


def _pa2_inputs(plan: Plan, spots: Sequence[Spot]) -> dict[str, Any]:
    areas: dict[int, list[list[int | float]]] = defaultdict(list)
    repeats: dict[int, int] = defaultdict(int)
    for spot in spots:
        if spot.shown_nm:
            areas[spot.area].append([um(value - spot.correction_nm) for value in spot.shown_nm])
            # A spot short of readings is not complete anyway; its repeat is one of those it lacks.
            repeats[spot.area] += spot.repeat_missing and len(spot.shown_nm) >= READINGS_PER_SPOT
    return {
        "areas": [
            {"name": f"area {number}", "spots_um": readings}
            | ({"repeats_missing": repeats[number]} if repeats[number] else {})
            for number, readings in areas.items()
        ],
        # An area begun with nothing but discarded readings is one more to measure.
        "areas_to_measure": max(plan.areas, len({spot.area for spot in spots})),
    }


def _iso19840_inputs(readings: Sequence[ReadingSent], correction_nm: int) -> dict[str, Any]:
    """Readings as shown, with what is subtracted beside them.

    Each discarded one is a repeat of its own, named by the reading that counts after it at the same spot.
    """
    ordered = sorted(readings, key=lambda reading: (reading.spot, reading.order))
    counting = [reading for reading in ordered if not reading.void_reason]
    place = {(reading.spot, reading.order): index for index, reading in enumerate(counting)}
    repeats = []
    for voided in (reading for reading in ordered if reading.void_reason):
        later = min((order for spot, order in place if spot == voided.spot and order > voided.order), default=None)
        if later is not None:
            repeats.append({"index": place[voided.spot, later], "first_um": um(voided.value_nm)})
    return {
        "readings_um": [um(reading.value_nm) for reading in counting],
        "correction_um": um(correction_nm),
        **({"repeats": repeats} if repeats else {}),
    }


def _refuse_below_correction(readings: Sequence[ReadingSent], correction_nm: int) -> None:
    faults = [
        Fault(
            f"{in_unit(reading.value_nm, 'um')} µm is less than the {in_unit(correction_nm, 'um')} µm subtracted for "
            "the profile; check the reading and the correction",
            "value",
            row,
        )
        for row, reading in enumerate(readings, start=1)
        if not reading.void_reason and reading.value_nm < correction_nm
    ]
    if faults:
        raise Refused(faults)


def _asked(calculation: str, inputs: dict[str, Any]) -> str:
    """The digest of a question to a rule."""
    return hashlib.sha256(json.dumps([calculation, inputs], sort_keys=True).encode()).hexdigest()


def _calculated(name: str, inputs: dict[str, Any]) -> dict[str, Any]:
    try:
        return calculate(name, inputs)
    except InputFault as wrong:
        raise Refused(Fault(fault.message, fault.field) for fault in wrong.faults) from wrong
