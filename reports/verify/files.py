"""Files of record against their digests, issued papers against the journal, and the heads they carry."""

from __future__ import annotations

from collections.abc import Iterator

from accounts import chain, vault
from accounts.chain import Head
from accounts.models import StoredFile
from inspection.foundation.refusals import Refused
from reports.daily.models import ReportIssue
from reports.verify.told import disagreements, told_of


def differences() -> Iterator[str]:
    for file in StoredFile.objects.order_by("pk").iterator(chunk_size=100):
        try:
            vault.content_of(file)
        except Refused as refusal:
            yield f"file {file.pk[:12]}…: {refusal}"
    issues = ReportIssue.objects.select_related("report__project").order_by("pk")
    for batch in told_of(issues, ("report.issued",)):
        for issue, entry in batch:
            stored = {"revision": issue.revision, "facts": issue.facts_digest, "file": issue.file_id}
            yield from disagreements(f"issued paper {issue}", stored, entry)
            if entry is not None and (entry.after or {}).get("not_reviewed") != issue.not_reviewed:
                yield f"issued paper {issue}: why it was not reviewed is not what journal entry {entry.pk} tells"


def issued_heads() -> Iterator[tuple[ReportIssue, Head]]:
    """The head of the journal in each issued paper, from the paper's own bytes."""
    for issue in ReportIssue.objects.select_related("file", "report__project").order_by("pk").iterator(chunk_size=100):
        try:
            content = vault.content_of(issue.file)
        except Refused:
            continue  # told with the files
        for head in set(chain.heads_in(content.decode("latin-1"))):
            yield issue, head
