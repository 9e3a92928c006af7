"""Field records: what was observed on site. Never edited; a correction is a new version that names the old one."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID

from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from accounts.models import Person, StoredFile
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText, ShortText
from inspection.instruments.models import Gauge
from inspection.projects.models import Coat, InspectionArea, OfProject, Project, Station

if TYPE_CHECKING:
    from django.db.models.expressions import Combinable

# What "the newest record" means, everywhere: that which was begun last; of several begun at once, that with the
# greatest id. Both are the record's own, so it is the same in whichever order the records arrived.
NEWEST_FIRST = ("-taken_at", "-id")


class RecordQuerySet(OfProject):
    def current(self) -> RecordQuerySet:
        """Without the versions that a correction has replaced."""
        return self.filter(replaced_by=None)

    def newest_first(self) -> RecordQuerySet:
        return self.order_by(*NEWEST_FIRST)

    def that_count(self) -> RecordQuerySet:
        """Without what was taken only to investigate."""
        return self.exclude(purpose=Record.Purpose.INVESTIGATION)

    def latest_of_places(self) -> RecordQuerySet:
        """Those of the rows that stand now for their area after their coat, whatever else the rows leave out."""
        return self.filter(Exists(Latest.objects.filter(record=OuterRef("pk"))))

    def of_place(self, area: UUID, coat: UUID | None) -> RecordQuerySet:
        """All that was measured on an area after a coat, corrections in place of what they correct, newest first."""
        return self.current().filter(area=area, coat=coat).newest_first()


class Record(models.Model):
    """What every field record carries, whatever was observed. Its id is the sender's, so sending it again is safe.

    Each kind has a table of its own beside this one, with what was read, the inputs and the answer of the rule.
    """

    class Source(models.TextChoices):
        PAGE = "page", "Page"
        FILE = "file", "File upload"
        API = "api", "API"

    class Purpose(models.TextChoices):
        """What it was taken for. What only investigates enters no mean, no verdict of a place and no release."""

        ACCEPTANCE = "acceptance", "Acceptance"
        CONTROL = "control", "The contractor's own control"
        INVESTIGATION = "investigation", "Investigation"
        REPAIR = "repair", "Repair"

    class Verdict(models.TextChoices):
        PASS = "pass", "Pass"
        FAIL = "fail", "Fail"
        INCOMPLETE = "incomplete", "More readings wanted"
        NOT_JUDGED = "not judged", "Not judged by this rule"

    # The name of the kind, said by the model of each.
    KIND = ""

    id = models.UUIDField(primary_key=True, default=new_id)
    kind = models.CharField(max_length=12, help_text="Name of the kind")
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="records")
    area = models.ForeignKey(InspectionArea, on_delete=models.PROTECT, related_name="records")
    coat = models.ForeignKey(Coat, on_delete=models.PROTECT, null=True, blank=True, related_name="records")
    purpose = models.CharField(max_length=13, choices=Purpose, default=Purpose.ACCEPTANCE)
    taken_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    taken_at = models.DateTimeField(help_text="When it was begun: of several readings the first")
    ended_at = models.DateTimeField(help_text="Of several readings the last")
    received_at = models.DateTimeField(default=timezone.now)
    source = models.CharField(max_length=4, choices=Source)
    digest = models.CharField(
        max_length=64, help_text="Of what the sender sent; the same id with another digest is refused"
    )
    replaces = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by")
    replacement_reason = LongText(blank=True)
    note = LongText(blank=True)
    gauge = models.ForeignKey(Gauge, on_delete=models.PROTECT, null=True, blank=True, related_name="records")
    verdict = models.CharField(max_length=10, choices=Verdict)
    reading_count = models.PositiveIntegerField(default=1, help_text="Without voided readings")

    objects = RecordQuerySet.as_manager()

    class Meta:
        ordering = NEWEST_FIRST
        indexes = (
            models.Index(fields=("area", "coat", "kind", "-taken_at", "-id"), name="record_of_place"),
            models.Index(fields=("gauge", "taken_at"), name="record_of_gauge"),
            models.Index(fields=("project", "kind", "taken_at"), name="record_of_project"),
            # What a trace or a recall asks of very many is read from here.
            models.Index(
                fields=("id",),
                include=("project", "area", "coat", "taken_by", "taken_at", "reading_count", "kind"),
                name="record_for_trace",
            ),
        )
        constraints = (
            models.CheckConstraint(condition=Q(ended_at__gte=models.F("taken_at")), name="record_in_order_of_time"),
        )

    def __str__(self) -> str:
        after = f" after {self.coat.name}" if self.coat else ""
        return f"{self.kind.capitalize()} of {self.area.label}{after}, {self.taken_at:%Y-%m-%d %H:%M} UTC"

    def __eq__(self, other: object) -> bool:
        """The row that all kinds have and the row of its kind are one record."""
        return isinstance(other, Record) and self.id == other.id

    def __hash__(self) -> int:
        return hash(self.id)

    def save(self, **kwargs: Any) -> None:
        """Both rows are inserted, never updated: a record is only added."""
        self.kind = self.KIND
        super().save(**kwargs | {"force_insert": (Record,)})

    @property
    def by_name(self) -> str:
        """Who took it, under the name of that time."""
        return self.taken_by.name_at(self.taken_at)


of_record(Record)


class JudgedRecord(Record):
    """What a kind of the bare steel keeps beside its answers: what was asked of the place, and how it was judged."""

    put_right = ShortText(max_length=200, blank=True, help_text="What was done since the record before it failed")
    asked_for = models.JSONField(help_text="What the specification asked when it was recorded")
    calculation = models.CharField(max_length=30, help_text="Name in the standards core; empty where none judged it")
    inputs = models.JSONField(help_text="What the rule was given; giving it again gives the same verdict")
    result = models.JSONField(help_text="What the rule answered, check by check")

    class Meta:
        abstract = True
        ordering = NEWEST_FIRST


class Latest(models.Model):
    """The record that stands now for a place (an area, after a coat or before the first) and a kind of record.

    A reading of a climate station stands for every area that the station served then, as `served.py` says. Derived
    from the records, and kept only by storing one; `manage.py standing` compares it and puts it right.
    """

    area = models.ForeignKey(InspectionArea, on_delete=models.PROTECT, related_name="latest")
    coat = models.ForeignKey(Coat, on_delete=models.PROTECT, null=True, related_name="+")
    kind = models.CharField(max_length=12)
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="latest")

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=("area", "coat", "kind"), condition=Q(coat__isnull=False), name="latest_once_after_a_coat"
            ),
            models.UniqueConstraint(
                fields=("area", "kind"), condition=Q(coat__isnull=True), name="latest_once_before_coats"
            ),
        )

    def __str__(self) -> str:
        return f"Latest {self.kind} of {self.area.label}"


@of_record
class ClimateRecord(Record):
    """Air and steel at one place and time, and whether the coat may go on. Temperatures in °C, humidity in %.

    Taken at a station it counts for all areas that the station served then; its own area is the first of them.
    Without a coat only the margin above the dew point is judged.
    """

    class Rain(models.TextChoices):
        NONE = "none", "None"
        LIGHT = "light", "Light"
        HEAVY = "heavy", "Heavy"

    KIND = "climate"
    # The limits either hold or they do not.
    VERDICTS = [(verdict.value, str(verdict.label)) for verdict in (Record.Verdict.PASS, Record.Verdict.FAIL)]

    dry_bulb_c = models.DecimalField(max_digits=4, decimal_places=1)
    wet_bulb_c = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    relative_humidity_pct = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    surface_c = models.DecimalField(max_digits=4, decimal_places=1)
    pressure_hpa = models.DecimalField(max_digits=6, decimal_places=2, default="1013.25")
    station = models.ForeignKey(Station, on_delete=models.PROTECT, null=True, blank=True, related_name="readings")
    warmest_surface_c = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    wind_m_s = models.DecimalField(max_digits=3, decimal_places=1, null=True, blank=True)
    rain = models.CharField(max_length=5, choices=Rain, null=True, blank=True)  # noqa: DJ001 - null is "not told", added to rows of record
    dehumidifier_on = models.BooleanField(null=True, blank=True)
    # Computed at recording by the standards core, kept as found.
    found_humidity_pct = models.FloatField()
    dew_point_c = models.FloatField()
    margin_c = models.FloatField()
    inputs = models.JSONField()
    result = models.JSONField()

    def __str__(self) -> str:
        return f"Climate at {self.area.label}, {self.taken_at:%Y-%m-%d %H:%M} UTC"


@of_record
class ThicknessRecord(Record):
    """A complete measurement of one area after one coat: all its readings, and the verdict they gave."""

    class ProfileWay(models.TextChoices):
        """How the surface profile under the film was dealt with. Exactly one way, or it is subtracted twice."""

        ADJUSTED = "adjusted", "Gauge adjusted on the blasted surface"
        CORRECTION = "correction", "Adjusted on smooth steel, correction value subtracted"
        BASE_METAL = "base_metal", "Base metal reading subtracted"

    KIND = "thickness"

    if TYPE_CHECKING:
        coat: models.ForeignKey[Coat | Combinable | None, Coat]
        coat_id: UUID
        gauge: models.ForeignKey[Gauge | Combinable | None, Gauge]
        gauge_id: UUID
    profile_way = models.CharField(max_length=10, choices=ProfileWay)
    correction_nm = models.PositiveIntegerField(default=0, help_text="Subtracted from every reading")
    profile_record = models.ForeignKey(
        "fieldwork.ProfileRecord", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by_it",
        help_text="From which the correction was taken; null where it was typed",
    )  # fmt: skip
    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    # Of this upload: the same bytes may have come elsewhere under another name.
    file_name = models.CharField(max_length=200, blank=True)
    unit = models.CharField(
        max_length=3, choices=[("um", "µm"), ("mil", "mil")], help_text="In which the gauge showed them"
    )
    calculation = models.CharField(max_length=30, help_text="Name in the standards core")
    inputs = models.JSONField(help_text="What the rule was given; giving it again gives the same verdict")
    result = models.JSONField(help_text="What the rule answered, check by check")
    readings_wanted = models.PositiveIntegerField()
    # The mean may fall between nanometres; the exact one is in `result`. These are for lists.
    mean_nm = models.PositiveIntegerField(null=True)
    lowest_nm = models.IntegerField(null=True)
    highest_nm = models.IntegerField(null=True)

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=~Q(profile_way="adjusted") | Q(correction_nm=0),
                name="no_correction_after_adjusting_on_profile",
            ),
        )

    def __str__(self) -> str:
        return f"Thickness of {self.area.label} after {self.coat.name}, {self.taken_at:%Y-%m-%d %H:%M} UTC"

    @property
    def first_reading_at(self) -> datetime:
        return self.taken_at

    @property
    def last_reading_at(self) -> datetime:
        return self.ended_at


@of_record
class Reading(models.Model):
    """One gauge reading as the gauge showed it. A voided one stays, with its reason, out of the arithmetic."""

    record = models.ForeignKey(ThicknessRecord, on_delete=models.PROTECT, related_name="readings")
    spot = models.PositiveIntegerField()
    order = models.PositiveIntegerField()
    value_nm = models.PositiveIntegerField()
    taken_at = models.DateTimeField(null=True, blank=True, help_text="Where the sender told each reading's own time")
    void_reason = ShortText(max_length=200, blank=True)

    class Meta:
        ordering = ("record", "spot", "order")
        constraints = (models.UniqueConstraint(fields=("record", "spot", "order"), name="reading_place_once"),)


PUT_RIGHT = "sheet.reading_put_right"
"""The journal's word for a typing slip put right on the sheet, at once; a record is asked for them by its id."""


class Sheet(models.Model):
    """A measurement under way: readings noted one by one until they become a record, which takes the sheet's id."""

    id = models.UUIDField(primary_key=True, default=new_id)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="sheets")
    area = models.ForeignKey(InspectionArea, on_delete=models.PROTECT, related_name="+")
    coat = models.ForeignKey(Coat, on_delete=models.PROTECT, related_name="+")
    gauge = models.ForeignKey(Gauge, on_delete=models.PROTECT, related_name="+")
    profile_way = models.CharField(max_length=10, choices=ThicknessRecord.ProfileWay)
    correction_nm = models.PositiveIntegerField(default=0)
    profile_record = models.ForeignKey(
        "fieldwork.ProfileRecord", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="sheets")
    begun_at = models.DateTimeField(default=timezone.now)
    replaces = models.ForeignKey(ThicknessRecord, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    replacement_reason = LongText(blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)

    objects = OfProject.as_manager()

    class Meta:
        ordering = ("-begun_at",)

    def __str__(self) -> str:
        return f"Sheet of {self.area.label} after {self.coat.name}, {self.begun_at:%Y-%m-%d %H:%M} UTC"


class SheetReading(models.Model):
    sheet = models.ForeignKey(Sheet, on_delete=models.CASCADE, related_name="readings")
    spot = models.PositiveIntegerField()
    order = models.PositiveIntegerField()
    value_nm = models.PositiveIntegerField()
    taken_at = models.DateTimeField(default=timezone.now)
    void_reason = ShortText(max_length=200, blank=True)

    class Meta:
        ordering = ("spot", "order")
        constraints = (models.UniqueConstraint(fields=("sheet", "spot", "order"), name="sheet_reading_place_once"),)


class KeptUpload(models.Model):
    """What was sent with a file of readings, from its preview until it is stored or two hours have passed.

    A row and nothing in the cache: what was typed must not be lost because the cache is away or was emptied.
    """

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    digest = models.CharField(max_length=64)
    what = models.JSONField(help_text="The set-up of the measurement, by id")
    content = models.BinaryField()
    # What was read from the content and what the rule said of it; found again where it is missing.
    read = models.BinaryField(null=True)
    kept_until = models.DateTimeField(db_index=True)

    class Meta:
        constraints = (models.UniqueConstraint(fields=("person", "digest"), name="upload_kept_once"),)

    def __str__(self) -> str:
        return f"Upload kept until {self.kept_until:%Y-%m-%d %H:%M} UTC"


class ToldShape(models.Model):
    """How a file with this head, of this gauge, was told to be read last; offered for the next, never taken unasked.

    It holds what columns are and no word of any file: the head only as its digest, since gauges serve many projects.
    """

    gauge = models.ForeignKey(Gauge, on_delete=models.CASCADE, related_name="+")
    head_digest = models.CharField(max_length=64)
    shape = models.JSONField(help_text="What each column is, and the unit, order of days and readings of a spot")
    told_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    told_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = (models.UniqueConstraint(fields=("gauge", "head_digest"), name="shape_told_once"),)

    def __str__(self) -> str:
        return f"Shape told on {self.told_at:%Y-%m-%d %H:%M} UTC"


class TestRecord(Record):
    """What the kinds share that are tests of a film after a coat: what was sent, and what one rule made of it."""

    # pytest collects by name; this is none of its own.
    __test__ = False

    if TYPE_CHECKING:
        coat: models.ForeignKey[Coat | Combinable | None, Coat]
        coat_id: UUID
    observed = models.JSONField(help_text="What was set, read and seen, with the limits of the contract, as sent")
    calculation = models.CharField(max_length=30, help_text="Name in the standards core; empty where none judged it")
    inputs = models.JSONField(help_text="What the rule was given; giving it again gives the same verdict")
    result = models.JSONField(help_text="What the rule answered, check by check")

    class Meta:
        abstract = True
        ordering = NEWEST_FIRST

    def __str__(self) -> str:
        return (
            f"{self.KIND.capitalize()} of {self.area.label} after {self.coat.name}, {self.taken_at:%Y-%m-%d %H:%M} UTC"
        )
