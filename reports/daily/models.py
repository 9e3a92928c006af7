"""How days are reported; each report's draft, what was issued of it, what that rests on, what was said of it."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from accounts.admission import signed_by
from accounts.models import Person, StoredFile
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText, ShortText
from inspection.projects.models import OfProject, Project
from reports.daily.naming import number_of


class Reportings(OfProject):
    def in_scope_of(self, person: Person) -> Self:
        """Contractors' people have no part in what the company tells its client."""
        return self.none()

    def that_stand(self) -> Reportings:
        """Those that nobody took back, the newest last: of those that have begun on a day, the last one holds."""
        return self.filter(withdraws=None, withdrawn_by=None).order_by("entered_at", "pk")


@of_record
class Reporting(models.Model):
    """How the days of a project are reported from one of them on, or that such a declaration is taken back."""

    class OneA(models.TextChoices):
        DAY = "day", "One paper a day"
        SHIFT = "shift", "One paper a shift"
        DISCIPLINE = "discipline", "One paper a discipline: preparation, coating, inspection"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="reportings")
    one_a = models.CharField(max_length=10, choices=OneA)
    # When they begin is told by the project itself; of shifts without a name here their number is told.
    shift_names = LongText(blank=True, help_text="Of the project's shifts in their order, one a line")
    from_day = models.DateField()
    reason = LongText(blank=True, help_text="Why it is declared so, or taken back")
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField(default=timezone.now)
    withdraws = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="withdrawn_by"
    )

    objects = Reportings.as_manager()

    class Meta:
        ordering = ("entered_at", "pk")
        indexes = (models.Index(fields=("project", "from_day"), name="reporting_of_project"),)

    def __str__(self) -> str:
        told = "taken back" if self.withdraws_id else self.get_one_a_display().split(":")[0].lower()
        return f"Daily reports of {self.project.code} from {self.from_day:%Y-%m-%d}: {told}"


class ReportQuerySet(OfProject):
    """Drafts are the company's own; others see a report once it has been issued."""

    def that_stand(self) -> Self:
        """Without drafts of papers into which their day is not divided any more."""
        return self.filter(overtaken_at=None)

    def visible_to(self, person: Person) -> ReportQuerySet:
        mine: ReportQuerySet = super().visible_to(person).filter(overtaken_at=None)  # type: ignore[assignment]  # the same class, which the plugin loses
        return mine if person.is_company else mine.filter(Exists(ReportIssue.objects.filter(report=OuterRef("pk"))))


class DailyReport(models.Model):
    """The report of one project and one of its days, or of a shift or a discipline of it where the project wants that.

    The draft is built again as records come in; issues are fixed.
    """

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="dailyreports")
    day = models.DateField()
    # The shift or discipline that it tells of, as `parts` has it; empty for the one of the whole day.
    part = ShortText(max_length=40, blank=True, default="")
    # Among the papers of its day.
    order = models.PositiveSmallIntegerField(default=0)
    overtaken_at = models.DateTimeField(null=True, blank=True, help_text="When its day was divided otherwise")
    draft = models.ForeignKey(StoredFile, on_delete=models.PROTECT, null=True, related_name="+")
    built_at = models.DateTimeField(null=True)
    # Of the facts the draft was built from; an issue with the same one has nothing new to say.
    facts_digest = models.CharField(max_length=64, blank=True)

    objects = ReportQuerySet.as_manager()

    class Meta:
        ordering = ("-day", "order")
        constraints = (
            models.UniqueConstraint(fields=("project", "day", "part"), name="one_report_a_project_day_and_part"),
        )

    def __str__(self) -> str:
        return f"Daily report {self.project.code} {self.of}"

    @property
    def of(self) -> str:
        """The day, and of a part of it the shift or discipline."""
        return f"{self.day:%Y-%m-%d}{', ' if self.part else ''}{self.part}"

    @property
    def number(self) -> str:
        """As the paper itself has it."""
        return number_of(self.project.code, self.day, self.part)

    def file_name(self, which: str) -> str:
        """What a PDF of it is called: `which` is the draft, or a revision."""
        return f"{self.number}-{which}.pdf"


class IssueQuerySet(OfProject):
    path = "report__project"


@of_record
class ReportIssue(models.Model):
    """An issued revision: file, digest and number are fixed, and the database refuses to change the row."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    report = models.ForeignKey(DailyReport, on_delete=models.PROTECT, related_name="issues")
    revision = models.PositiveSmallIntegerField()
    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="+")
    facts_digest = models.CharField(max_length=64)
    issued_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    issued_at = models.DateTimeField(default=timezone.now)
    reason = LongText(blank=True, help_text="Why there is a new revision; empty on the first")
    # Null where somebody did, which is the rule.
    not_reviewed = LongText(null=True, blank=True, help_text="Why nobody but its writers looked it through")

    objects = IssueQuerySet.as_manager()

    class Meta:
        ordering = ("report", "revision")
        constraints = (models.UniqueConstraint(fields=("report", "revision"), name="revision_once_a_report"),)

    def __str__(self) -> str:
        return f"{self.report} revision {self.revision}"

    @property
    def file_name(self) -> str:
        return self.report.file_name(f"revision-{self.revision}")

    @property
    def by_name(self) -> str:
        """Who issued it, under the name of that time."""
        return self.issued_by.name_at(self.issued_at)


@of_record
class Basis(models.Model):
    """One thing that an issued revision rests on; fixed with it. The trace and the doubts of a report start here."""

    # Of what else than records a revision is made.
    VERIFICATION, HOLDPOINT, LOT = "verification", "holdpoint", "lot"
    ENTRY, SIGNATURE = "diaryentry", "daysignature"

    issue = models.ForeignKey(ReportIssue, on_delete=models.PROTECT, related_name="basis")
    kind = models.CharField(max_length=12, help_text="Of a record its kind; else verification, holdpoint or lot")
    thing = models.UUIDField()
    # How far the revision said that a record can be relied on; unknown of older revisions.
    told = models.CharField(max_length=11, null=True)  # noqa: DJ001 - added to a table of record

    class Meta:
        constraints = (models.UniqueConstraint(fields=("issue", "kind", "thing"), name="basis_once_an_issue"),)
        indexes = (models.Index(fields=("thing", "kind", "issue")),)

    def __str__(self) -> str:
        return f"{self.issue} rests on {self.kind} {self.thing}"


@of_record
class SetAside(models.Model):
    """Somebody looked at what had come up against a revision and let it stand, or took that back; only added."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    issue = models.ForeignKey(ReportIssue, on_delete=models.PROTECT, related_name="set_asides")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    covers_until = models.DateTimeField(null=True, help_text="What came up later asks again; empty where taken back")
    reason = LongText()

    class Meta:
        ordering = ("at", "pk")

    def __str__(self) -> str:
        return f"{self.issue} {'set aside' if self.covers_until else 'to be looked at again'}"


@of_record
class Review(models.Model):
    """Somebody who recorded nothing of the day looked its draft through, or took that back; only added."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    report = models.ForeignKey(DailyReport, on_delete=models.PROTECT, related_name="reviews")
    # Of the facts that were looked at; with other facts the report wants another look.
    facts_digest = models.CharField(max_length=64)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    note = LongText(blank=True, help_text="What was seen; or why it is taken back")
    withdraws = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="withdrawn_by"
    )

    class Meta:
        ordering = ("at", "pk")
        indexes = (models.Index(fields=("report", "at"), name="review_of_report"),)

    def __str__(self) -> str:
        return f"{self.report} {'review taken back' if self.withdraws_id else 'reviewed'}"

    @property
    def by_name(self) -> str:
        """Who looked, under the name of that time."""
        return self.by.name_at(self.at)


class WordQuerySet(OfProject):
    path = "issue__report__project"


@of_record
class ClientWord(models.Model):
    """What the client says of an issued revision: a comment, a signature, or that such a word is taken back."""

    class What(models.TextChoices):
        COMMENT = "comment", "Comment"
        SIGNED = "signed", "Signed"
        WITHDRAWN = "withdrawn", "Taken back"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    issue = models.ForeignKey(ReportIssue, on_delete=models.PROTECT, related_name="words")
    what = models.CharField(max_length=9, choices=What)
    text = LongText(blank=True)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    signed_as = models.CharField(max_length=240, help_text="Name and organisation as they were then")
    admitted = models.TextField(blank=True, help_text="How whoever signed was admitted, as known then")
    at = models.DateTimeField(default=timezone.now)
    withdraws = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="withdrawn_by"
    )

    objects = WordQuerySet.as_manager()

    class Meta:
        ordering = ("at", "pk")
        constraints = (
            models.CheckConstraint(
                condition=Q(what="withdrawn", withdraws__isnull=False)
                | (~Q(what="withdrawn") & Q(withdraws__isnull=True)),
                name="only_a_taking_back_names_a_word",
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_what_display()} on {self.issue}"

    @property
    def signed(self) -> str:
        return signed_by(self.signed_as, self.admitted)
