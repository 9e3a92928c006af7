"""The steps of checking a gauge: what for, on what, and the readings."""

from __future__ import annotations

import re
import statistics
from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from accounts import journal
from accounts.models import Person
from inspection.foundation.form_fields import LocalMoment
from inspection.foundation.refusals import Refused
from inspection.foundation.typed_codes import LONG, LONGEST, meant_by
from inspection.foundation.units import Unit, in_unit, to_nm
from inspection.instruments.actions.check_points import PointSent
from inspection.instruments.actions.verifications import FOUND_IS_UNADJUSTED, LONGEST_REASON
from inspection.instruments.advice import Choice
from inspection.instruments.closing import COUNTS
from inspection.instruments.forms.other_checks import figures_field, written
from inspection.instruments.models import Gauge, ReferenceStandard, Verification
from inspection.instruments.site_checks import SiteCheck
from inspection.projects.models import Project

FOUND, LEFT = "found", "left"
WHENS = [(FOUND, "As found, before any adjusting"), (LEFT, "As left, after adjusting or without need of it")]
WHY_FOUND_FIRST = (
    "Check as found, before any adjusting: only that shows how the gauge was while the readings were taken. Adjust it "
    "afterwards, and check it again as left."
)
LOSES_EVIDENCE = (
    "A check made after adjusting does not show how the gauge was while the readings were taken: stored like this, "
    "the records since its last check will be in question, whatever the verdict."
)


def usual_when(purpose: str, *, used: bool = False) -> str:
    """Before work a gauge is adjusted and checked as left; after work and on suspicion it is checked as it is found.

    So it is before work too where it was `used` already and how it was then is still to be shown.
    """
    return LEFT if purpose == Verification.Purpose.OPENING and not used else FOUND


def loses_evidence(purpose: str, as_left: str, adjustment: str, *, used: bool = False) -> bool:
    """Whether a check that was to show how the gauge had been is made after adjusting it."""
    adjusted = as_left == LEFT and adjustment != Verification.Adjustment.NONE
    return adjusted and usual_when(purpose, used=used) == FOUND


def awaited(count: int) -> str:
    """That records await a check, which the one about to be made would be; empty where none does."""
    if not count:
        return ""
    many = "1 record awaits its check" if count == 1 else f"{count} records await their check"
    return f"{many} after work: this check would be that one."


def names(point: list[Choice]) -> str:
    """The standards of a point; a stack as it lies."""
    words = " + ".join(choice.standard.identity for choice in point)
    return f"{words} (stacked, from the bottom up)" if len(point) > 1 else words


class ProjectField(forms.ModelChoiceField):
    """Projects, each with its unit where they differ in it."""

    names_unit = False

    def label_from_instance(self, project: Any) -> str:
        return f"{project}, in {Unit(project.unit).label}" if self.names_unit else str(project)


class Begin(forms.Form):
    """What the check is for. The target is the whole film the gauge will show, in the project's unit."""

    project = ProjectField(Project.objects.none(), label="Project", empty_label=None)
    purpose = forms.ChoiceField(label="Purpose", choices=Verification.Purpose.choices, widget=forms.RadioSelect)
    surface = forms.ChoiceField(
        label="Steel under the coating to be measured", choices=Verification.Surface.choices, widget=forms.RadioSelect
    )
    profile_known = forms.BooleanField(
        label="The bare prepared surface, or a piece of the same preparation, is at hand", required=False
    )
    target = forms.CharField(
        label="Thickness you expect to measure", max_length=40,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )  # fmt: skip

    def __init__(
        self, *args: Any, by: Person, gauge: Gauge, corrected: Verification | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.gauge = gauge
        project: Any = self.fields["project"]
        seen = Project.objects.visible_to(by)
        project.queryset = seen.filter(pk=corrected.project_id) if corrected else seen.filter(closed_at=None)
        units = sorted(set(project.queryset.order_by().values_list("unit", flat=True)), reverse=True)
        project.names_unit = len(units) > 1
        named = " or ".join(Unit(unit).label for unit in units) + (", as its project has it" if units[1:] else "")
        self.fields["target"].help_text = f"The whole film down to the steel, in {named or Unit.UM.label}"

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if "project" in values and "target" in values:
            try:
                values["target_nm"] = to_nm(values["target"], values["project"].unit)
            except Refused as refusal:
                self.add_error("target", refusal.faults[0].message)
            else:
                if values["target_nm"] == 0:
                    self.add_error("target", "Give the thickness you expect, more than 0.")
                elif why := self._beyond(values["target_nm"], values["project"].unit):
                    self.add_error("target", why)
        return values

    def _beyond(self, target_nm: int, unit: str) -> str:
        """That the gauge does not reach the target; empty when it does."""
        low, high = self.gauge.range_from_nm or 0, self.gauge.range_to_nm
        if target_nm >= low and (high is None or target_nm <= high):
            return ""
        ends = f"{in_unit(low, unit)} to {in_unit(high, unit)}" if high is not None else f"from {in_unit(low, unit)}"
        return f"{self.gauge} measures {ends} {Unit(unit).label}; give a thickness within that, or take another gauge."


class OnWhat(forms.Form):
    """As found or left, which adjustment was made, and the standards: each alone, and at most one stack."""

    as_left = forms.ChoiceField(label="When", choices=WHENS, widget=forms.RadioSelect)
    adjustment = forms.ChoiceField(
        label="Adjustment made before these readings", choices=Verification.Adjustment.choices, widget=forms.RadioSelect
    )
    on = forms.MultipleChoiceField(
        label="Check on each of these alone", required=False, widget=forms.CheckboxSelectMultiple
    )
    typed = forms.CharField(
        label="Or by their codes", required=False, max_length=LONGEST,
        help_text="As on their labels, with commas between: S-50, S-125.",
    )  # fmt: skip
    stack = forms.MultipleChoiceField(
        label="And on a stack of these", required=False, widget=forms.CheckboxSelectMultiple,
        help_text="Only where no single shim comes near the target; two shims or more, laid with the thickest at the "
        "bottom. The next page lists them from the bottom up.",
    )  # fmt: skip

    def __init__(self, *args: Any, choices: list[Choice], unit: str, found_first: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if found_first:
            self.fields["as_left"].help_text = WHY_FOUND_FIRST
        self.usable = {str(choice.standard.pk): choice for choice in choices if not choice.why_not}
        on: Any = self.fields["on"]
        stack: Any = self.fields["stack"]
        on.choices = [(pk, choice.label(unit)) for pk, choice in self.usable.items()]
        if len(self.usable) <= LONG:
            del self.fields["typed"]
        shims = {pk for pk, choice in self.usable.items() if choice.standard.kind == ReferenceStandard.Kind.SHIM}
        stack.choices = [(pk, choice.label(unit)) for pk, choice in self.usable.items() if pk in shims]

    def clean_typed(self) -> list[str]:
        known = [(choice.standard.identity, pk) for pk, choice in self.usable.items()]
        return meant_by(self.cleaned_data["typed"], known)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        values["on"] = list(dict.fromkeys([*values.get("on", []), *values.get("typed", [])]))
        adjusted = values.get("adjustment", Verification.Adjustment.NONE) != Verification.Adjustment.NONE
        if values.get("as_left") == FOUND and adjusted:
            self.add_error("adjustment", FOUND_IS_UNADJUSTED)
        if len(values.get("stack", [])) == 1:
            self.add_error("stack", "One shim is no stack; take two or more, or none.")
        if not self.errors and not values.get("on") and not values.get("stack"):
            self.add_error("on", "Choose at least one standard; one near the thickness you expect is best.")
        return values

    def points(self) -> list[list[Choice]]:
        """The points to read, thin before thick, the stack last and from the bottom up: its thickest shim first."""
        alone = sorted((self.usable[pk] for pk in self.cleaned_data["on"]), key=lambda choice: choice.value_nm)
        stack = sorted((self.usable[pk] for pk in self.cleaned_data["stack"]), key=lambda choice: -choice.value_nm)
        return [[choice] for choice in alone] + ([stack] if stack else [])


class ReadingsField(forms.CharField):
    """Readings in the order taken, apart by spaces or new lines, each with a point or a decimal comma; nm as a list."""

    widget = forms.Textarea

    def __init__(self, *, unit: str, **kwargs: Any) -> None:
        super().__init__(max_length=4000, **kwargs)
        self.unit = unit
        self.widget.attrs |= {"rows": 3, "inputmode": "text", "autocomplete": "off", "autocapitalize": "off"}

    def clean(self, value: Any) -> Any:
        readings, faults = [], []
        for number, word in enumerate(re.split(r"[\s;]+", super().clean(value).replace("−", "-")), start=1):
            if not word:
                continue
            try:
                readings.append(self._nm(word.removesuffix(","), number))
            except ValidationError as wrong:
                faults += wrong.messages
        if faults:
            raise ValidationError(faults)
        return readings

    def written(self, nm: int) -> str:
        """A reading as somebody would type it."""
        digits = 3 if self.unit == Unit.UM else 2
        return in_unit(nm, self.unit, digits).rstrip("0").rstrip(".")

    def _nm(self, word: str, number: int) -> int:
        if word.count(",") > 1 or ("," in word and "." in word):
            raise ValidationError(f"Reading {number}, “{word[:40]}”: put a space between readings.")
        sign = -1 if word.startswith("-") else 1
        try:
            return sign * to_nm(word.removeprefix("-"), self.unit)
        except Refused as refusal:
            raise ValidationError(f"Reading {number}: {refusal.faults[0].message}") from None


@dataclass(frozen=True)
class SoFar:
    """What the readings on one point say before the check is stored; nm."""

    count: int
    mean_nm: float
    scatter_nm: float | None
    error_nm: float


class Readings(forms.Form):
    """The readings on every point, when they were taken, and a note."""

    taken_at = LocalMoment(label="Taken at")
    note = forms.CharField(
        label="Note", required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Temperature, probe, anything that bears on the readings",
    )  # fmt: skip

    # The readings for which the questions were answered.
    confirmed = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(
        self,
        data: Any = None,
        *,
        points: list[list[Choice]],
        check: SiteCheck,
        project: Project,
        now: datetime,
        purpose: str,
        corrected: Verification | None = None,
    ) -> None:
        super().__init__(data, initial={"taken_at": now, "note": corrected.note if corrected else ""})
        moment: Any = self.fields["taken_at"]
        moment.zone, moment.label = project.zone, f"Taken at, time in {project.time_zone}"
        self.points_asked, self.check = points, check
        self.names = [f"readings{number}" for number in range(1, len(points) + 1)]
        for name, point in zip(self.names, points, strict=True):
            self.fields[name] = self._field(point, project.unit)
        if purpose == Verification.Purpose.CLOSING:
            moment.help_text = f"{COUNTS}: give a time after the last reading, not the same minute."
        if corrected:
            self.fields["replacement_reason"] = forms.CharField(
                label="Why it is corrected", max_length=LONGEST_REASON, widget=forms.Textarea(attrs={"rows": 2}),
                help_text="Both versions stay readable, with this reason.",
            )  # fmt: skip
            self._fill_in(corrected)
        self.order_fields([*self.names, "taken_at", "note", "replacement_reason"])

    def _field(self, point: list[Choice], unit: str) -> forms.CharField:
        words = f"Readings on {names(point)}"
        if not self.check.of_thickness:
            return figures_field(self.check, label=f"{words}, {self.check.unit}")
        field = ReadingsField(unit=unit, label=f"{words}, {Unit(unit).label}")
        field.error_messages["required"] = f"Give the {words[0].lower()}{words[1:]}, such as 50.1 50.3 49.9."
        return field

    def _fill_in(self, corrected: Verification) -> None:
        """The readings as they were stored, for the points that lie on the same standards."""
        if not self.check.of_thickness:
            self._fill_in_figures(corrected)
            return
        stored = {
            tuple(use.certified_value.standard_id for use in point.uses.all()): point.shown_nm
            for point in corrected.points.all()
        }
        for name, point in zip(self.names, self.points_asked, strict=True):
            field: Any = self.fields[name]
            readings = stored.get(tuple(choice.standard.pk for choice in point), [])
            field.initial = " ".join(field.written(nm) for nm in readings)

    def _fill_in_figures(self, corrected: Verification) -> None:
        lines: dict[Any, list[str]] = defaultdict(list)
        for point in corrected.points.all():
            for use in point.uses.all():
                shown = point.reference if use.certified_value.value is None else None
                lines[use.certified_value.standard_id].append(written(shown, point.readings or []))
        for name, (choice,) in zip(self.names, self.points_asked, strict=True):
            self.fields[name].initial = "\n".join(lines[choice.standard.pk])

    def sent(self) -> list[PointSent]:
        """The points as they are stored: of a reference instrument each line is one."""
        found = []
        for name, point in zip(self.names, self.points_asked, strict=True):
            standards = [choice.standard for choice in point]
            if self.check.of_thickness:
                found.append(PointSent(standards, self.readings(name)))
            elif self.check.by_reference_read:
                found += [PointSent(standards, [], row["readings"], row["reference"]) for row in self.readings(name)]
            else:
                found.append(
                    PointSent(standards, [], [each for row in self.readings(name) for each in row["readings"]])
                )
        return found

    def point_fields(self) -> list[dict[str, Any]]:
        """Each point with its field, its certified thickness and what its readings say so far."""
        return [
            {
                "field": self[name],
                "names": names(point),
                "certified_nm": certified_nm(point),
                "so_far": self._so_far(name, point),
            }
            for name, point in zip(self.names, self.points_asked, strict=True)
        ]

    def rest(self) -> list[forms.BoundField]:
        return [self[name] for name in ("taken_at", "note", "replacement_reason") if name in self.fields]

    def as_asked(self) -> str:
        """A short name of the readings as they are, so that a question once answered is asked anew of others."""
        readings = [self.readings(name) for name in self.names]
        return str(journal.digest_of({"readings": readings if self.check.of_thickness else str(readings)}))[:16]

    @property
    def is_confirmed(self) -> bool:
        return bool(self.is_valid() and self.cleaned_data["confirmed"] == self.as_asked())

    def readings(self, name: str) -> list[Any]:
        found: list[Any] = getattr(self, "cleaned_data", {}).get(name) or []
        return found

    def _so_far(self, name: str, point: list[Choice]) -> SoFar | None:
        found = self.readings(name)
        if not found or not self.check.of_thickness:
            return None
        mean = statistics.fmean(found)
        scatter = statistics.stdev(found) if len(found) > 1 else None
        return SoFar(len(found), mean, scatter, mean - certified_nm(point))


def certified_nm(point: list[Choice]) -> int:
    return sum(choice.value_nm for choice in point)
