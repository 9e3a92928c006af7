"""Writing the journal. Every action calls `record` inside its own transaction: no entry, no change."""

from __future__ import annotations

import hashlib
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

import rfc8785
import structlog
from django.db import models, transaction
from django.utils import timezone

from accounts import chain
from accounts.models import JournalEntry, Person


def plain(value: Any) -> Any:
    """The value as JSON can hold it: ids, times and decimals as text, mappings and lists item by item."""
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(item) for item in value]
    if isinstance(value, models.Model):
        return str(value.pk)
    if isinstance(value, UUID | Decimal):
        return str(value)
    if isinstance(value, datetime | date):
        return value.isoformat()
    return value


def digest_of(content: Any) -> str:
    """SHA-256 of the canonical JSON (RFC 8785) of the content."""
    return hashlib.sha256(rfc8785.dumps(plain(content))).hexdigest()


def record(
    verb: str,
    about: models.Model,
    *,
    by: Person | None,
    project_id: UUID | None = None,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
    reason: str = "",
    at: datetime | None = None,
) -> JournalEntry:
    """Add one entry to the journal. Raises RuntimeError outside a transaction, where entry and change could part."""
    if not transaction.get_connection().in_atomic_block:
        raise RuntimeError(f"{verb} was journalled outside a transaction")
    entry = JournalEntry(
        # In UTC, as it is read back: the digest is of its text.
        at=(at or timezone.now()).astimezone(UTC),
        actor=by,
        actor_text=f"{by.name} <{by.email}>" if by else "the platform",
        verb=verb,
        object_type=about._meta.label_lower,
        object_id=str(about.pk),
        object_text=str(about)[:300],
        project_id=project_id,
        before=plain(before),
        after=plain(after),
        reason=reason,
        request_id=request_id(),
    )
    entry.digest = entry_digest(entry)
    entry.save(force_insert=True)
    chain.soon()
    return entry


def request_id() -> str:
    """Of the request that is being answered; empty outside one."""
    return str(structlog.contextvars.get_contextvars().get("request_id", ""))


def entry_digest(entry: JournalEntry) -> str:
    """The digest an entry must have, from its own content; an auditor recomputes it."""
    return digest_of(
        {
            "at": entry.at,
            "actor": entry.actor_text,
            "verb": entry.verb,
            "object": [entry.object_type, entry.object_id, entry.object_text],
            "project": entry.project_id,
            "before": entry.before,
            "after": entry.after,
            "reason": entry.reason,
            "request": entry.request_id,
        }
    )


def altered(entry: JournalEntry) -> bool:
    """Whether the entry, as read back, no longer has the digest it was written with."""
    try:
        return entry_digest(entry) != entry.digest
    except (ValueError, TypeError):
        # Content that has no canonical form was never written by `record`.
        return True
