"""`python -m tests.upgrade.upgraded`: bring the stored database of DATABASE_URL to the present; print what is found.

A process of its own, with the real settings, as an upgrade is: the release's migrations, then whatever an auditor asks.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from io import StringIO
from typing import Any

import django
import time_machine

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

# Minutes after the last entry of what is stored, while its shift is still open: an hour later its last record would
# rightly fall into question.
THEN = datetime.fromisoformat("2026-03-04T12:05:00+01:00")


def said(command: str, *arguments: str) -> str:
    """The last line of what the command says."""
    from django.core.management import call_command

    out = StringIO()
    try:
        call_command(command, *arguments, stdout=out)
    except SystemExit:
        return out.getvalue()
    return out.getvalue().splitlines()[-1]


def digests() -> dict[str, Any]:
    """As the scene told them when it was stored: each kept one, and those that the present code computes anew."""
    from accounts import chain
    from accounts.journal import digest_of
    from accounts.models import StoredFile
    from inspection.fieldwork.models import ClimateRecord, Latest, ThicknessRecord
    from inspection.holdpoints.evidence import evidence_of
    from inspection.holdpoints.models import Decision, HoldPoint
    from inspection.instruments.models import Verification
    from inspection.nonconformance.models import Disposition, Nonconformance
    from inspection.projects.models import Project
    from inspection.standing.models import Standing
    from reports.daily.gathering import gather
    from reports.daily.models import DailyReport, ReportIssue, SetAside

    def by_id(rows: Any, *names: str) -> dict[str, Any]:
        listed = rows.order_by("pk").values_list("pk", *names)
        return {str(pk): [str(value) for value in values] for pk, *values in listed}

    def evidence(point: Any) -> str:
        """As 0.1 told it: without the chain, which the present tells beside it."""
        content = evidence_of(point).content
        return digest_of({name: told for name, told in content.items() if name != "chain"})

    def facts(project: Any, day: Any) -> str:
        """As 0.1 told them: without the record and the entries that the present tells of a nonconformance."""
        told = gather(project, day)
        before = (replace(row, of_record="", on="", said=()) for row in told.nonconformances)
        return replace(told, nonconformances=tuple(before)).digest

    return {
        "thickness": by_id(ThicknessRecord.objects.all(), "digest", "verdict", "reading_count"),
        "climate": by_id(ClimateRecord.objects.all(), "digest", "verdict"),
        "verification": by_id(Verification.objects.all(), "digest", "verdict"),
        "standing": by_id(Standing.objects.all(), "record", "state"),
        "latest": sorted(str(pk) for pk in Latest.objects.values_list("record", flat=True)),
        "point": by_id(HoldPoint.objects.all(), "state"),
        "decision": by_id(Decision.objects.all(), "outcome", "evidence_digest"),
        "evidence": {str(point.pk): evidence(point) for point in HoldPoint.objects.order_by("pk")},
        "nonconformance": by_id(Nonconformance.objects.all(), "number", "state"),
        "disposition": by_id(Disposition.objects.all(), "kind"),
        "draft": by_id(DailyReport.objects.all(), "facts_digest", "draft"),
        "facts": {
            f"{project.code} {day}": facts(project, day)
            for project in Project.objects.order_by("code")
            for day in sorted({project.day_of(at) for at in project.records.values_list("taken_at", flat=True)})
        },
        "issue": by_id(ReportIssue.objects.all(), "revision", "facts_digest", "file"),
        "set_aside": by_id(SetAside.objects.all(), "reason"),
        "file": by_id(StoredFile.objects.all(), "size"),
        "head": str(chain.head()),
    }


def pages() -> dict[str, int]:
    """How each page answers to the client's person, signed in with the password of then."""
    from django.conf import settings
    from django.test import Client, override_settings
    from django.urls import reverse

    from inspection.fieldwork.models import ClimateRecord, Sheet, ThicknessRecord
    from inspection.holdpoints.models import HoldPoint
    from inspection.nonconformance.models import Nonconformance
    from reports.daily.models import DailyReport

    def opened(email: str, *addresses: str) -> dict[str, int]:
        visitor = Client(headers={"host": "localhost"})
        assert visitor.login(email=email, password="salt spray and patience")
        # Static files need not have been collected for this.
        plain = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
        with override_settings(STORAGES={**settings.STORAGES, "staticfiles": plain}):
            return {f"{email} {address}": visitor.get(address).status_code for address in addresses}

    record, report = ThicknessRecord.objects.exclude(replaces=None).get(), DailyReport.objects.get()
    points = HoldPoint.objects.filter(state__in=("released", "refused"))
    return opened(
        "edda@example.com",
        *(reverse("point", args=[point.pk]) for point in points),
        reverse("thickness", args=[record.pk]),
        reverse("climate", args=[ClimateRecord.objects.filter(project=report.project).first().pk]),
        reverse("nonconformance", args=[Nonconformance.objects.first().pk]),
        reverse("report", args=[report.pk]),
    ) | opened("jonas@example.com", reverse("sheet", args=[Sheet.objects.get().pk]))


def taken() -> list[str]:
    """Changes of rows of record that the database does not refuse; that every trigger stands is verified apart."""
    from django.db import DatabaseError, transaction

    from inspection.fieldwork.models import Reading, Record
    from inspection.holdpoints.models import Decision
    from reports.daily.models import ReportIssue

    def refused(change: Callable[[], object]) -> bool:
        try:
            with transaction.atomic():
                change()
        except DatabaseError as fault:
            return "append-only" in str(fault)
        return False

    found = []
    for model, another in (
        (Record, {"digest": "0" * 64}), (Reading, {"value_nm": 1}), (Decision, {"reason": "Another"}),
        (ReportIssue, {"reason": "Another"}),
    ):  # fmt: skip
        rows = model._default_manager.all()
        if not refused(lambda rows=rows, another=another: rows.update(**another)):
            found.append(f"{model._meta.label} can be changed")
        if not refused(lambda rows=rows: rows._raw_delete(rows.db)):
            found.append(f"{model._meta.label} can be deleted")
    return found


def parties() -> list[str]:
    """The parties that each project stands with."""
    from inspection.projects.models import Party

    rows = Party.objects.in_force().values_list("project__code", "kind", "organisation__name")
    return sorted(" ".join(row) for row in rows)


def main() -> None:
    with time_machine.travel(THEN, tick=True):
        django.setup()
        from django.core.management import call_command

        call_command("migrate", verbosity=0)
        found = {
            "verify": said("verify"), "standing": said("standing", "--check"), "digests": digests(),
            "pages": pages(), "taken": taken(), "parties": parties(),
        }  # fmt: skip
    json.dump(found, sys.stdout)


if __name__ == "__main__":
    main()
