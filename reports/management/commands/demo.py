"""Plays the demo scenario once, and prints what happened."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from accounts.models import Person
from inspection.fieldwork.models import ThicknessRecord
from reports.daily.models import ReportIssue
from reports.demo import plot
from reports.demo.story import Story


class Command(BaseCommand):
    help = "Play the demo scenario through the real actions and print what happened. What is there already is kept."

    def handle(self, *args: Any, **options: Any) -> None:
        if Person.objects.exists():
            self.stdout.write("The database already holds people and records; they are kept as they are.")
        else:
            self.stdout.write("Playing some weeks of five projects …")
            Story().play()
        self.records()
        self.reports()
        self.sign_ins()

    def records(self) -> None:
        records = (
            ThicknessRecord.objects.filter(replaced_by=None)
            .select_related("project", "area", "coat", "standing")
            .order_by("project__code", "coat__order", "taken_at")
        )
        rows = [("area", "coat", "rule", "readings", "verdict", "standing")]
        rows += [
            (
                f"{record.project.code} {record.area.label}",
                record.coat.name,
                record.coat.rule_name,
                str(record.reading_count),
                record.get_verdict_display(),
                record.standing.get_state_display(),
            )
            for record in records
        ]
        self.table(rows)

    def reports(self) -> None:
        issue = ReportIssue.objects.select_related("report__project", "file").order_by("-issued_at").first()
        if issue is None:
            self.stdout.write("No daily report has been issued yet.")
            return
        digest = issue.file.digest
        path = settings.FILES_DIR / digest[:2] / digest[2:4] / digest
        self.stdout.write(f"\nDaily report: {issue}\n  {path} (a PDF, named by its digest)")

    def sign_ins(self) -> None:
        self.stdout.write(f"\nSign in at {settings.SITE_URL} with the password “{plot.PASSWORD}” as")
        rows = [
            (plot.email(key), name, role.label.lower(), purpose)
            for key, (name, _, role, purpose) in plot.PEOPLE.items()
            if Person.objects.filter(email=plot.email(key)).exists()
        ]
        self.table(rows)

    def table(self, rows: Sequence[tuple[str, ...]]) -> None:
        widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
        for row in rows:
            cells = zip(row, widths, strict=True)
            self.stdout.write("  " + "  ".join(cell.ljust(width) for cell, width in cells).rstrip())
