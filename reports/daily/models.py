"""The draft of each day's report, what was issued of it and what that rests on, and what was set aside."""

from __future__ import annotations

from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from accounts.admission import signed_by
from accounts.models import Person, StoredFile
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText
from inspection.projects.models import OfProject, Project


class ReportQuerySet(OfProject):
    """Drafts are the company's own; others see a report once it has been issued."""

    def visible_to(self, person: Person) -> ReportQuerySet:
        mine: ReportQuerySet = super().visible_to(person)  # type: ignore[assignment]  # the same class, which the plugin loses
        return mine if person.is_company else mine.filter(Exists(ReportIssue.objects.filter(report=OuterRef("pk"))))


class DailyReport(models.Model):
    """The report of one project and one of its days. The draft is built again as records come in; issues are fixed."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="dailyreports")
    day = models.DateField()
    draft = models.ForeignKey(StoredFile, on_delete=models.PROTECT, null=True, related_name="+")
    built_at = models.DateTimeField(null=True)
    # Of the facts the draft was built from; an issue with the same one has nothing new to say.
    facts_digest = models.CharField(max_length=64, blank=True)

    objects = ReportQuerySet.as_manager()

    class Meta:
        ordering = ("-day",)
        constraints = (models.UniqueConstraint(fields=("project", "day"), name="one_report_a_project_and_day"),)

    def __str__(self) -> str:
        return f"Daily report {self.project.code} {self.day:%Y-%m-%d}"

    def file_name(self, which: str) -> str:
        """What a PDF of it is called: `which` is the draft, or a revision."""
        return f"{self.project.code}-{self.day:%Y%m%d}-{which}.pdf"


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
