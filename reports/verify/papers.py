"""What was said of daily reports, how days are reported, heads of papers: each row against what the journal tells."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from accounts import journal
from accounts.models import JournalEntry
from inspection.projects.preconditions import snapshot
from reports.daily.answering import VERBS
from reports.daily.models import ClientWord, Reporting, Review
from reports.papers.models import CompanyHead, ProjectHead
from reports.verify.told import disagreements, told_of

REVIEWED = ("report.reviewed", "report.review_taken_back")


def differences() -> Iterator[str]:
    yield from _reviews()
    yield from _words()
    yield from _heads()
    yield from _reportings()


def _reviews() -> Iterator[str]:
    rows = Review.objects.select_related("report__project", "withdraws").order_by("pk")
    for batch in told_of(rows, REVIEWED):
        for row, entry in batch:
            what = f"review {row.pk} ({row})"
            yield from disagreements(what, {"facts": row.facts_digest}, entry)
            if entry is not None:
                told = {
                    "verb": REVIEWED[bool(row.withdraws_id)], "by": row.by_id, "at": row.at, "words": row.note,
                    "project": row.report.project_id,
                }  # fmt: skip
                yield from _of_entry(what, told, entry)
                yield from _taken_back(what, {"review": row.withdraws_id}, entry)


def _words() -> Iterator[str]:
    rows = ClientWord.objects.select_related("issue__report__project", "person").order_by("pk")
    for batch in told_of(rows, tuple(VERBS.values())):
        for row, entry in batch:
            what = f"client's word {row.pk} ({row})"
            stored = {"revision": row.issue.revision, "file": row.issue.file_id}
            stored |= {"admitted": row.admitted} if row.admitted else {}
            yield from disagreements(what, stored, entry)
            if entry is not None:
                told = {
                    "verb": VERBS[ClientWord.What(row.what)], "by": row.person_id, "at": row.at, "words": row.text,
                    "project": row.issue.report.project_id,
                }  # fmt: skip
                yield from _of_entry(what, told, entry)
                yield from _taken_back(what, {"word": row.withdraws_id}, entry)
                if not row.signed_as.startswith(f"{row.person.name_at(row.at)}, "):
                    yield f"{what}: it is signed as {row.signed_as}, who said it was {row.person.name_at(row.at)} then"


def _heads() -> Iterator[str]:
    heads: tuple[tuple[Any, str], ...] = (
        (CompanyHead.objects.order_by("pk"), "paper.company_head"),
        (ProjectHead.objects.select_related("project").order_by("pk"), "paper.project_head"),
    )
    for rows, verb in heads:
        for batch in told_of(rows, (verb,)):
            for row, entry in batch:
                yield from disagreements(f"head of papers {row.pk} ({row})", snapshot(row), entry)


def _reportings() -> Iterator[str]:
    rows = Reporting.objects.select_related("project").order_by("pk")
    for batch in told_of(rows, ("reporting.declared", "reporting.taken_back")):
        for row, entry in batch:
            yield from disagreements(f"how days are reported {row.pk} ({row})", snapshot(row), entry)


def _of_entry(what: str, row: dict[str, Any], entry: JournalEntry) -> Iterator[str]:
    """A sentence for each thing that the columns of the entry tell otherwise than the row."""
    told = {
        "verb": entry.verb, "by": entry.actor_id, "at": entry.at, "words": entry.reason,
        "project": entry.project_id,
    }  # fmt: skip
    for name, value in row.items():
        if journal.plain(value) != journal.plain(told[name]):
            yield f"{what}: {name} is not what journal entry {entry.pk} tells"


def _taken_back(what: str, row: dict[str, Any], entry: JournalEntry) -> Iterator[str]:
    """Of what takes something else back, that it takes back what the entry tells of."""
    for name, value in row.items():
        if journal.plain(value) != (entry.before or {}).get(name):
            yield f"{what}: it takes back another {name} than journal entry {entry.pk} tells of"
