"""Issued reports as a kind of the trace: what a revision rests on, and which revisions rest on a thing."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.urls import reverse

from accounts.models import Person, Role
from inspection.fieldwork.kinds import BY_NAME
from inspection.projects.models import Membership
from inspection.standing.models import Standing
from inspection.trace.bundle_content import columns
from inspection.trace.kinds import Ids, Kind, Link, Row, narrowed, register
from reports.daily.against import RELIED_ON, over_withdrawn_paint
from reports.daily.models import Basis, ReportIssue


def register_reports() -> None:
    kinds = (*BY_NAME, Basis.VERIFICATION, Basis.HOLDPOINT, Basis.LOT, Basis.ENTRY, Basis.SIGNATURE)
    links = [Link("report", kind, lambda kind=kind: _basis(kind)) for kind in kinds]  # type: ignore[misc]  # a default binds the name of this turn
    register(REPORT, links=links)


def _seen(person: Person) -> QuerySet[ReportIssue]:
    seen: QuerySet[ReportIssue] = ReportIssue.objects.visible_to(person)
    questioned = Standing.objects.filter(state=Standing.State.IN_QUESTION).values("record")
    doubts = Basis.objects.filter(issue=OuterRef("pk"), kind__in=RELIED_ON, thing__in=questioned)
    paint = over_withdrawn_paint(Basis.objects.filter(issue=OuterRef("pk")))
    return seen.select_related("report__project", "issued_by").annotate(in_question=Exists(doubts) | Exists(paint))


def _basis(kind: str) -> QuerySet[Basis]:
    return Basis.objects.filter(kind=kind).annotate(above=F("issue"), below=F("thing"))


def _row(issue: Any) -> Row:
    at = issue.issued_at.astimezone(issue.report.project.zone)
    detail = f"issued {at:%Y-%m-%d %H:%M} by {issue.by_name}"
    short = f"{issue.report.of} rev. {issue.revision}"
    state, words = ("in_question", "Now in question") if issue.in_question else ("issued", "Issued")
    return Row(str(issue), detail, state, words, reverse("report", args=[issue.report_id]), short=short)


def _facts(issue: ReportIssue) -> list[tuple[str, str]]:
    facts = [("SHA-256 of the file", issue.file_id), ("SHA-256 of the facts", issue.facts_digest)]
    return [*facts, ("Why there is a new revision", issue.reason)] if issue.reason else facts


# As a report names itself: P-1-20260304, P-1-20260304-night, Daily report P-1 2026-03-04, Night revision 2.
NUMBERED = re.compile(
    r"(?:daily report\s+)?(\S.*?)[-\s](\d{4})-?(\d\d)-?(\d\d)(?:(?:-|,\s*)(\S.*?))??"
    r"(?:\W+rev(?:ision|\.)?\s*(\d{1,4}))?",
    re.IGNORECASE,
)


def _search(words: str) -> Q:
    named = Q(report__project__code__iexact=words) | Q(file__digest=words.lower()) | Q(facts_digest=words.lower())
    if numbered := NUMBERED.fullmatch(words):
        code, *day, part, revision = numbered.groups()
        try:
            of_day = Q(report__project__code__iexact=code, report__day=date(*map(int, day)))
        except ValueError:
            return named
        if part:
            # A number has hyphens where the name of the part has blanks.
            of_day &= Q(report__part__iexact=part) | Q(report__part__iexact=part.replace("-", " "))
        named |= of_day & Q(revision=int(revision)) if revision else of_day
    return named


def _told(issues: Ids) -> list[QuerySet[Any]]:
    """Who issued them, and the client's people who may have read them."""
    rows = narrowed(ReportIssue.objects.order_by(), "pk", issues)
    clients = Membership.objects.in_force().filter(project__in=rows.values("report__project"), role=Role.CLIENT)
    return [rows.values("issued_by").distinct(), clients.order_by().values("person").distinct()]


REPORT = Kind(
    name="report", one="Issued report", many="Issued reports", layer=10, seen=_seen, describe=_row, facts=_facts,
    search=_search, newest="-issued_at", told=_told, whole=lambda rows: rows.select_related("file"),
    content=columns, file=lambda issue: issue.file, stored="file",
)  # fmt: skip
