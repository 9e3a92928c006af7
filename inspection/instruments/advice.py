"""Advice for a check: which shims to take, how to adjust, and how to handle them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from accounts.models import Person
from inspection.foundation.units import Unit, in_unit, um
from inspection.instruments import doubt
from inspection.instruments.actions.check_points import out_of_use
from inspection.instruments.models import CertifiedValue, Equipment, Gauge, InstrumentRules, ReferenceStandard
from inspection.instruments.queries import Reliance
from inspection.instruments.registers import zone_of
from inspection.instruments.site_checks import SITE_CHECKS, kinds_told, lacking
from inspection.projects.models import Project
from inspection.standards import InputFault, calculate

# The trade's care with shims, in our own words (common practice, no source).
HANDLING = (
    "Lay the shim on clean, bare, uncoated steel: no dust, grease, mill scale or magnetised swarf.",
    "Use only flat, undamaged shims; a kinked, scratched or dented one reads thick.",
    "Measure in the middle of the shim, away from its edges and off its printed label.",
    "Hold the probe square to the surface, press it steadily and lift it clear between readings.",
    "Stack only when no single shim will do, as few as possible: air between them reads as thickness.",
    "Take at least three readings on each point, more where they scatter.",
)


@dataclass(frozen=True)
class Choice:
    """A standard that might be used, with its certified value, what is warned of, or why it cannot be used."""

    standard: ReferenceStandard
    value: CertifiedValue | None
    held: bool
    why_not: str
    warning: str = ""

    @property
    def value_nm(self) -> int:
        return (self.value.value_nm if self.value else None) or 0

    def label(self, unit: str) -> str:
        """As it stands beside a box to tick."""
        words = f"{self.standard.identity}, {kinds_told([ReferenceStandard.Kind(self.standard.kind)])}"
        if not self.value:
            return words
        hands = "" if self.held else ", not in your hands"
        warning = f"; {self.warning}" if self.warning else ""
        if self.value.value_nm is None:
            return f"{words}{f' {self.value.told}' if self.value.told else ''}{hands}{warning}"
        value, uncertainty = in_unit(self.value_nm, unit), in_unit(self.value.expanded_uncertainty_nm or 0, unit)
        return f"{words} {value} ± {uncertainty} {Unit(unit).label}{hands}{warning}"


@dataclass(frozen=True)
class GaugeChoice:
    """A gauge that might be checked, with what is warned of, was reported of it, or why it cannot be checked."""

    gauge: Gauge
    why_not: str
    warning: str
    reported: str = ""


def gauge_choice(gauge: Gauge, reliance: Reliance, at: datetime, reported: str = "") -> GaugeChoice:
    why_not = out_of_use(gauge, at) or reliance.why_not(gauge) or lacking(gauge)
    return GaugeChoice(gauge, why_not, "" if why_not else reliance.overdue(gauge), reported)


def gauge_choices(person: Person, day: date, at: datetime) -> list[GaugeChoice]:
    """The instruments that have a check on site, those to hand and in date first."""
    gauges = list(Gauge.objects.visible_to(person).filter(kind__in=SITE_CHECKS).select_related("holder"))
    gauges = [gauge for gauge in gauges if gauge.state != Equipment.State.RETIRED]
    reliance = Reliance.on(day, gauges=gauges, warns=InstrumentRules.now().warns)
    reported = doubt.beside(gauges, zone_of(person))
    rows = [gauge_choice(gauge, reliance, at, reported.get(gauge.pk, "")) for gauge in gauges]
    return sorted(
        rows,
        key=lambda row: (bool(row.why_not), bool(row.warning), row.gauge.holder_id != person.pk, row.gauge.identity),
    )


def standard_choices(
    person: Person, project: Project, at: datetime, *, kinds: Sequence[str], warns: bool
) -> list[Choice]:
    """Standards of these kinds, those to hand and in date at the moment first, thin before thick."""
    seen = ReferenceStandard.objects.visible_to(person).filter(kind__in=kinds)
    standards = list(seen.exclude(state=Equipment.State.RETIRED))
    reliance = Reliance.on(project.day_of(at), standards=standards, warns=warns)
    rows = []
    for standard in standards:
        why_not = out_of_use(standard, at) or reliance.why_not(standard)
        warning = "" if why_not else reliance.overdue(standard)
        rows.append(Choice(standard, reliance.value(standard), standard.holder_id == person.pk, why_not, warning))
    return sorted(
        rows,
        key=lambda row: (
            bool(row.why_not), bool(row.warning), not row.held, row.standard.nominal_nm or 0, row.standard.identity,
        ),
    )  # fmt: skip


@dataclass(frozen=True)
class Advice:
    method: str
    adjust_on: str
    why: tuple[str, ...]
    caution: str
    adjust_with: tuple[Choice, ...]
    check_on: tuple[Choice, ...]
    subtract_correction: bool


def advise(choices: list[Choice], *, gauge: Gauge, target_nm: int, surface: str, profile_known: bool) -> Advice | None:
    """Method and shims for a target, from the shims in date and to hand, or in date at all when none is to hand.

    Where the company only warns, shims that have run out are taken when no other is left. None when no shim can be
    used.
    """
    usable = [
        choice
        for choice in choices
        if not choice.why_not
        and choice.value
        and choice.standard.kind == ReferenceStandard.Kind.SHIM
        and (gauge.range_to_nm is None or choice.value_nm <= gauge.range_to_nm)
    ]
    usable = [choice for choice in usable if not choice.warning] or usable
    usable = [choice for choice in usable if choice.held] or usable
    by_um: dict[float, Choice] = {}
    for choice in usable:
        by_um.setdefault(um(choice.value_nm), choice)
    given = {"target_um": um(target_nm), "surface": surface, "profile_known": profile_known, "shims_um": list(by_um)}
    try:
        answer = calculate("choose-shims", given, explain=True)
    except InputFault:
        return None
    adjust_with = [by_um[value] for value in answer["shims_um"]]
    verify_with = by_um[answer["verify_with_um"]]
    return Advice(
        method=answer["method"],
        adjust_on=answer["adjust_on"],
        why=tuple(answer["why"]),
        caution=answer["caution"],
        adjust_with=tuple(adjust_with),
        check_on=tuple(dict.fromkeys([*adjust_with, verify_with])),
        subtract_correction=answer["subtract_correction"],
    )
