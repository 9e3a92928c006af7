"""Daily reports as the API shows them: what was issued. Drafts stay with the company's pages."""

from __future__ import annotations

from datetime import datetime

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.reverse import reverse

from reports.daily.models import ClientWord, DailyReport, ReportIssue
from reports.daily.queries import stage_of
from reports.daily.reviewing import review_of


class ReportReviewIn(serializers.Serializer):
    seen = serializers.CharField(max_length=64, help_text="SHA-256 of the facts that were looked through")
    note = serializers.CharField(max_length=2000, allow_blank=True, default="")


class ReportBackIn(serializers.Serializer):
    reason = serializers.CharField(max_length=2000)


class ReportCommentIn(serializers.Serializer):
    text = serializers.CharField(max_length=2000)


class ReportSignIn(serializers.Serializer):
    text = serializers.CharField(max_length=2000, allow_blank=True, default="", help_text="A remark, if there is one")


class WordSerializer(serializers.ModelSerializer):
    """What the client said of a revision; what was taken back is named by the word that does so."""

    class Meta:
        model = ClientWord
        fields = ("id", "what", "text", "signed_as", "at", "withdraws")
        read_only_fields = fields


class IssueSerializer(serializers.ModelSerializer):
    sha256 = serializers.CharField(source="file_id", read_only=True, help_text="Of the PDF")
    facts_sha256 = serializers.CharField(source="facts_digest", read_only=True, help_text="Of the facts it tells")
    size = serializers.IntegerField(source="file.size", read_only=True, help_text="Bytes of the PDF")
    issued_by = serializers.CharField(source="by_name", read_only=True)
    reviewed_by = serializers.SerializerMethodField(help_text="Who had looked it through, as the paper says")
    reviewed_at = serializers.SerializerMethodField(help_text="Null where nobody did, as reviewed_by")
    not_reviewed = serializers.CharField(
        read_only=True,
        allow_null=True,
        help_text="Why no other person looked it through; null where somebody did",
    )
    in_question = serializers.SerializerMethodField(help_text="What has come up since against what it rests on")
    words = WordSerializer(many=True, read_only=True)
    file = serializers.SerializerMethodField(help_text="Address of the PDF")

    class Meta:
        model = ReportIssue
        fields = (
            "revision", "issued_at", "issued_by", "reason", "reviewed_by", "reviewed_at", "not_reviewed", "sha256",
            "facts_sha256", "size", "in_question", "words", "file",
        )  # fmt: skip
        read_only_fields = fields

    def get_reviewed_by(self, issue: ReportIssue) -> str | None:
        found = review_of(issue)
        return found.by_name if found else None

    def get_reviewed_at(self, issue: ReportIssue) -> datetime | None:
        found = review_of(issue)
        return found.at if found else None

    @extend_schema_field(serializers.ListField(child=serializers.CharField()))
    def get_in_question(self, issue: ReportIssue) -> list[str]:
        found: list[str] = self.context.get("doubts", {}).get(issue.pk, [])
        return found

    @extend_schema_field(serializers.URLField())
    def get_file(self, issue: ReportIssue) -> str:
        kwargs = {"pk": issue.report_id, "revision": issue.revision}
        return str(reverse("api_report_file", kwargs=kwargs, request=self.context.get("request")))


class ReportSerializer(serializers.ModelSerializer):
    project_code = serializers.CharField(source="project.code", read_only=True)
    part = serializers.CharField(
        read_only=True, help_text="The shift or discipline that it tells of; empty for the one of the whole day"
    )
    number = serializers.CharField(read_only=True, help_text="As the paper itself has it")
    stage = serializers.SerializerMethodField(help_text="none, draft, reviewed, issued, commented or signed")
    facts_sha256 = serializers.SerializerMethodField(help_text="Of the draft’s facts; empty but for the company")
    issues = IssueSerializer(many=True, read_only=True)

    class Meta:
        model = DailyReport
        fields = ("id", "project", "project_code", "day", "part", "number", "stage", "facts_sha256", "issues")
        read_only_fields = fields

    def get_stage(self, report: DailyReport) -> str:
        return stage_of(report)

    def get_facts_sha256(self, report: DailyReport) -> str:
        return report.facts_digest if self.context["request"].user.is_company else ""
