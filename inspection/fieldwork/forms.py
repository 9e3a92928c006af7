"""Forms of the field room: text into nanometres, degrees and moments of the project's own zone. Actions judge them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from decimal import Decimal
from typing import Any, ClassVar
from uuid import UUID

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.db.models import Q
from django.utils import timezone

from accounts.models import Person
from inspection.fieldwork import measuring, queries
from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.profile.correction import correction_of, settled_correction
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.fieldwork.storing import LONGEST_NOTE, LONGEST_REASON
from inspection.foundation.form_fields import set_up
from inspection.foundation.refusals import Refused
from inspection.foundation.typed_codes import TypedModel
from inspection.foundation.units import Unit, in_unit, to_nm, with_unit
from inspection.instruments import doubt, overdue
from inspection.instruments.models import Gauge
from inspection.projects.models import Coat, CoatingSystem, InspectionArea, Project

LONGEST_NUMBER = 40
MOST_PASTED = 2_000_000


class ThicknessField(forms.CharField):
    """A thickness typed in a unit, with a point or a decimal comma; its value is whole nanometres."""

    def __init__(self, *, unit: str, **kwargs: Any) -> None:
        attrs = {"inputmode": "decimal", "autocomplete": "off"}
        super().__init__(max_length=LONGEST_NUMBER, widget=forms.TextInput(attrs=attrs), **kwargs)
        self.unit = unit

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            return to_nm(text, self.unit)
        except Refused as wrong:
            raise forms.ValidationError([fault.message for fault in wrong.faults]) from None


class TenthField(forms.DecimalField):
    """A temperature or humidity to one tenth, with a point or a decimal comma."""

    def __init__(self, **kwargs: Any) -> None:
        widget = forms.TextInput(attrs={"inputmode": "text", "autocomplete": "off"})
        super().__init__(max_digits=4, decimal_places=1, widget=widget, **kwargs)

    def to_python(self, value: Any) -> Decimal | None:  # type: ignore[override]  # the stub forbids the None that an empty field gives
        if isinstance(value, str):
            value = value.strip().replace("\u2212", "-")
            if value.count(",") == 1 and "." not in value:
                value = value.replace(",", ".")
        return super().to_python(value)


class HumidityField(TenthField):
    """A relative humidity in per cent; says what is wanted of one typed with its sign, or as a share of one."""

    def to_python(self, value: Any) -> Decimal | None:  # type: ignore[override]  # the stub forbids the None that an empty field gives
        text = value.strip().replace(",", ".") if isinstance(value, str) else ""
        if text.endswith("%"):
            raise forms.ValidationError("Type the figure alone, without a % sign, such as 71.")
        try:
            share = 0 < float(text) < 1
        except ValueError:
            share = False
        if share:
            raise forms.ValidationError(f"{text} reads as a share of one; type the humidity in per cent, such as 71.")
        return super().to_python(value)


class MomentField(forms.DateTimeField):
    """A moment in the project's own time; the view makes its zone the current one."""

    def __init__(self, **kwargs: Any) -> None:
        # A step of one second, or the browser refuses a time that has seconds.
        widget = forms.DateTimeInput(attrs={"type": "datetime-local", "step": "1"}, format="%Y-%m-%dT%H:%M:%S")
        super().__init__(widget=widget, **kwargs)


class AreaField(TypedModel):
    typed_by = ("code",)

    def label_from_instance(self, area: Any) -> str:
        retired = ", retired" if area.retired_at else ""
        return f"{area.code} {area.name}, {area.area_m2.normalize():f} m² ({area.lies_in}){retired}"


class CoatField(forms.ModelChoiceField):
    """Coats of the project's systems, each with its rule and what it is held to through all coats."""

    unit = Unit.UM

    def label_from_instance(self, coat: Any) -> str:
        low, nominal, high = coat.through
        least = nominal if low is None else low
        label = Unit(self.unit).label
        figures = " to ".join(in_unit(limit, self.unit) for limit in (least, high) if limit is not None)
        more = " or more" if high is None else " or less" if least is None else ""
        limits = f", {'nominal ' if low is None and nominal else ''}{figures} {label}{more}" if figures else ""
        control = "" if coat.decides else ", for control only"
        return f"{coat.system}: {coat}, {coat.rule_name}{limits}{control}"


class GaugeField(TypedModel):
    """Instruments, each with what stands against it: its state, a certificate that has run out, what is told of it."""

    typed_by = ("identity",)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.run_out: dict[UUID, str] = {}
        self.told: dict[UUID, str] = {}

    def offer(
        self,
        gauges: Any,
        day: date,
        told: dict[UUID, str],
        against: Callable[[date, Any], dict[UUID, str]] = overdue.reasons,
    ) -> None:
        self.queryset = gauges
        self.run_out = against(day, gauges)
        self.told = told

    def label_from_instance(self, gauge: Any) -> str:
        told = f"{gauge.identity}, serial {gauge.serial}" if gauge.serial else gauge.identity
        state = "" if gauge.state == Gauge.State.IN_SERVICE else gauge.get_state_display().lower()
        against = "; ".join(words for words in (state, self.run_out.get(gauge.pk), self.told.get(gauge.pk)) if words)
        return f"{told} ({against})" if against else told


class ProfileField(forms.ModelChoiceField):
    """Surface profile records, each with what it gives to be subtracted."""

    def label_from_instance(self, profile: Any) -> str:
        unit, gives = profile.project.unit, []
        for way in (ThicknessRecord.ProfileWay.CORRECTION, ThicknessRecord.ProfileWay.BASE_METAL):
            try:
                given = correction_of(profile, way)
            except Refused:
                continue
            gives.append(f"{with_unit(given.nm, unit)} ({given.words})")
        taken = f"{profile.taken_at.astimezone(profile.project.zone):%Y-%m-%d %H:%M}"
        told = f"{profile.area.label}, {taken}, mean {with_unit(profile.mean_nm, unit)}"
        return f"{told}: {' or '.join(gives)}" if gives else f"{told}: gives none"


class OnArea(forms.Form):
    """A form about an area of one project."""

    area = AreaField(InspectionArea.objects.none(), label="Inspection area", empty_label="Choose the area")

    def __init__(self, *args: Any, by: Person, project: Project, area: InspectionArea | None = None, **kwargs: Any):
        self.by, self.project, self.today = by, project, project.day_of(timezone.now())
        self.known_area = area
        super().__init__(*args, **kwargs)
        of_project = InspectionArea.objects.filter(structure__project=project)
        set_up(self, "area", queryset=of_project.select_related("structure", "section", "system"))


class OnProject(OnArea):
    """A form about an area and coat of one project."""

    coat = CoatField(Coat.objects.none(), label="After which coat", empty_label="Choose the coat")

    def __init__(self, *args: Any, project: Project, area: InspectionArea | None = None, **kwargs: Any):
        super().__init__(*args, project=project, area=area, **kwargs)
        of_project = Coat.objects.filter(system__project=project)
        if area:
            # Those it had before too: what was recorded under them is corrected there, and may still arrive. By which
            # revision a step is judged follows from when it was measured.
            formerly = Q(system__in=area.former_systems.values("system"))
            of_project = of_project.filter(Q(system=area.system_id) | formerly)
        else:
            of_project = of_project.filter(system__in=CoatingSystem.objects.filter(project=project).in_force())
        set_up(self, "coat", queryset=of_project.select_related("system").prefetch_related("system__coats"))
        set_up(self, "coat", unit=project.unit)


class SetUp(OnProject):
    """What a thickness measurement is of, with which gauge, and how the profile under the film is dealt with."""

    gauge = GaugeField(Gauge.objects.none(), label="Gauge", empty_label="Choose the gauge")
    profile_way = forms.ChoiceField(
        label="Profile under the film",
        choices=ThicknessRecord.ProfileWay.choices,
        widget=forms.RadioSelect,
        initial=ThicknessRecord.ProfileWay.ADJUSTED,
        help_text="Exactly one of these, or the profile is subtracted twice.",
    )

    profile_record = ProfileField(
        ProfileRecord.objects.none(), label="Taken from the surface profile record", required=False,
        empty_label="None: typed below, or none needed",
        help_text="By the way above: the value of ISO 19840 for its grade, or the mean of its base metal readings.",
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        gauges = queries.thickness_gauges(self.by)
        self.fields["gauge"].offer(gauges, self.today, self.told_of(gauges))  # type: ignore[attr-defined]  # the field is a GaugeField
        label = Unit(self.project.unit).label
        self.fields["correction"] = ThicknessField(
            unit=self.project.unit,
            label=f"Subtracted for the profile, in {label}",
            required=False,
            help_text="Empty where it is taken from a profile record, or after adjusting on the blasted surface. "
            "Else the correction value, or the mean of about ten base metal readings.",
        )
        set_up(self, "profile_record", queryset=queries.profiles_to_take_from(self.project, self.known_area))
        self.order_fields(["area", "coat", "gauge", "profile_way", "profile_record", "correction"])
        in_hand = list(self.fields["gauge"].queryset.filter(holder=self.by)[:2])  # type: ignore[attr-defined]  # the field is a GaugeField
        if len(in_hand) == 1:
            self.fields["gauge"].initial = in_hand[0]

    def told_of(self, gauges: Any) -> dict[UUID, str]:
        return doubt.beside(gauges, self.project.zone)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        values["correction_nm"] = values.pop("correction", None) or 0
        profile, area = values.get("profile_record"), values.get("area")
        if profile and area and "profile_way" in values:
            try:
                values["correction_nm"] = settled_correction(
                    area=area.pk, way=values["profile_way"], correction_nm=values["correction_nm"], profile=profile
                )
            except Refused as wrong:
                for fault in wrong.faults:
                    self.add_error(fault.field, fault.message)
        return values


class Corrected(forms.Form):
    """Asked in addition when a record is corrected."""

    replacement_reason = forms.CharField(
        label="Why it is corrected",
        max_length=LONGEST_NOTE,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Both versions stay readable, with this reason.",
    )


class Begin(SetUp):
    # Made when the form is first shown, so that sending it twice begins one sheet.
    id = forms.UUIDField(required=False, widget=forms.HiddenInput)

    def told_of(self, gauges: Any) -> dict[UUID, str]:
        return measuring.beside(gauges, self.by, self.project, timezone.now())


class BeginCorrection(Begin, Corrected):
    pass


class Upload(SetUp):
    """A file of readings, or its rows pasted, with the times the rows may leave out."""

    file = forms.FileField(label="File", required=False, help_text="CSV or other text, .xlsx, .xls or .ods.")
    rows = forms.CharField(
        label="Or the rows themselves",
        required=False,
        max_length=MOST_PASTED,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false", "class": "code"}),
        help_text="Pasted as text, with the head where there is one.",
    )
    first_reading_at = MomentField(
        label="First reading at", required=False, help_text="Needed where the file has no column time."
    )
    last_reading_at = MomentField(label="Last reading at", required=False)
    note = forms.CharField(label="Note", required=False, max_length=LONGEST_NOTE, widget=forms.Textarea({"rows": 2}))

    def clean_file(self) -> UploadedFile | None:
        file: UploadedFile | None = self.cleaned_data["file"]
        if file and (file.size or 0) > settings.UPLOAD_MAX_BYTES:
            size, most = (file.size or 0) // 2**20, settings.UPLOAD_MAX_BYTES // 2**20
            raise forms.ValidationError(f"The file has {size} MB; at most {most} MB are read. Divide it.")
        return file

    def clean(self) -> dict[str, Any]:
        values = super().clean()
        if "file" not in self.errors and bool(values.get("file")) == bool(values.get("rows", "").strip()):
            both = bool(values.get("file"))
            self.add_error("file", "Give one: a file, or pasted rows." if both else "Choose a file, or paste its rows.")
        return values


class UploadCorrection(Upload, Corrected):
    pass


class NoteReading(forms.Form):
    """The next reading of a spot, on the sheet under way."""

    spot = forms.IntegerField(label="Spot", min_value=1, max_value=1_000_000)
    order = forms.IntegerField(required=False, min_value=1, max_value=1_000_000, widget=forms.HiddenInput)

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["value"] = ThicknessField(unit=unit, label=f"Reading in {Unit(unit).label}")
        self.fields["value"].widget.attrs |= {"autofocus": True, "class": "big", "enterkeyhint": "send"}
        self.fields["spot"].widget.attrs["inputmode"] = "numeric"


class PutReadingRight(forms.Form):
    """What the gauge showed, in place of what was typed."""

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["value"] = ThicknessField(unit=unit, label=f"What the gauge showed, in {Unit(unit).label}")


class VoidReading(forms.Form):
    void_reason = forms.CharField(label="Why it is voided", max_length=LONGEST_REASON)


class FinishSheet(forms.Form):
    note = forms.CharField(label="Note", required=False, max_length=LONGEST_NOTE, widget=forms.Textarea({"rows": 2}))


class AbandonSheet(forms.Form):
    reason = forms.CharField(label="Why it is given up", max_length=LONGEST_REASON)


class CorrectCells(forms.Form):
    """Why cells of a record are corrected; the changes themselves are held, and named by their digest."""

    # Made when the form is first shown, so that sending it twice stores one record.
    id = forms.UUIDField(widget=forms.HiddenInput)
    shown = forms.CharField(max_length=64, widget=forms.HiddenInput)
    reason = forms.CharField(
        label="Why the record is corrected", max_length=LONGEST_NOTE, widget=forms.Textarea({"rows": 2})
    )

    @property
    def as_asked(self) -> str:
        """The changes that a question was about; an answer holds for these and no others."""
        return str(self.cleaned_data.get("shown", ""))

    @property
    def is_confirmed(self) -> bool:
        return bool(self.is_valid() and self.data.get("confirmed") == self.as_asked)


class Observed(forms.Form):
    """What is observed in one go: when, with which instrument, and the figures, which may be asked about."""

    # The kind of instrument it is taken with, if with any, and the figures that a question is about.
    instrument: ClassVar[Gauge.Kind | None]
    figures: ClassVar[tuple[str, ...]]

    # Made when the form is first shown, so that sending it twice stores one record.
    id = forms.UUIDField(required=False, widget=forms.HiddenInput)
    taken_at = MomentField(label="Taken at")
    gauge = GaugeField(Gauge.objects.none(), label="Instrument", required=False, empty_label="None of ours")
    note = forms.CharField(label="Note", required=False, max_length=LONGEST_NOTE, widget=forms.Textarea({"rows": 2}))

    by: Person
    project: Project

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["taken_at"].initial = timezone.now().replace(second=0, microsecond=0)
        if self.instrument is None:
            del self.fields["gauge"]
            return
        meters = Gauge.objects.visible_to(self.by).filter(kind=self.instrument)
        meters = meters.exclude(state=Gauge.State.RETIRED)
        now = timezone.now()
        reported = measuring.beside(meters, self.by, self.project, now)
        today = self.project.day_of(now)
        self.fields["gauge"].offer(meters, today, reported, overdue.of_meters)  # type: ignore[attr-defined]  # the field is a GaugeField

    @property
    def as_asked(self) -> str:
        """The figures that a question was about; an answer holds for these and no others."""
        return " ".join(f"{name}={self.cleaned_data.get(name)}" for name in self.figures)

    @property
    def is_confirmed(self) -> bool:
        return bool(self.is_valid() and self.data.get("confirmed") == self.as_asked)


class RecordFilter(forms.Form):
    """What the lists of records are narrowed by."""

    project = forms.ModelChoiceField(Project.objects.none(), required=False, empty_label="All projects")
    area = forms.CharField(label="Area code", required=False, max_length=60)
    verdict = forms.ChoiceField(required=False)
    first_day = forms.DateField(label="From", required=False, widget=forms.DateInput({"type": "date"}))
    last_day = forms.DateField(label="To", required=False, widget=forms.DateInput({"type": "date"}))
    replaced = forms.BooleanField(label="With replaced versions", required=False)

    def __init__(self, *args: Any, by: Person, verdicts: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_up(self, "project", queryset=Project.objects.visible_to(by))
        set_up(self, "verdict", choices=[("", "Any verdict"), *verdicts])

    def narrow(self, records: Any) -> Any:
        """The records that are asked for; a filter that is not right narrows to nothing and says so."""
        if not self.is_valid():
            return records.none()
        asked = self.cleaned_data
        if not asked["replaced"]:
            records = records.current()
        zone = asked["project"].zone if asked["project"] else UTC
        wanted = {
            "project": asked["project"],
            "area__code__icontains": asked["area"],
            "verdict": asked["verdict"],
            "taken_at__gte": _begin(asked["first_day"], zone),
            "taken_at__lt": _begin(asked["last_day"], zone, days=1),
        }
        return records.filter(**{name: value for name, value in wanted.items() if value})


def _begin(day: date | None, zone: tzinfo, days: int = 0) -> datetime | None:
    """The first moment of the day, or of so many days later."""
    if day is None or not 2000 <= day.year < 9000:
        return None
    return datetime.combine(day + timedelta(days=days), time(), tzinfo=zone)
