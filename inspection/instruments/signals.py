"""The signal that evidence has changed: new records, or something that field records rest on."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.conf import settings
from django.dispatch import Signal
from django.utils.module_loading import import_string

# Sent inside the action's transaction, with
#   by       the person who acted (None for the platform),
#   records  ids of records that are new, of kinds that have a standing (default none),
#   gauges   ids of gauges whose verifications, certificates or incidents changed (default none),
#   since    the earliest moment touched on those gauges (default None: their whole history),
#   climate  ids of climate records that are new, or that new ones replace (default none),
#   areas    ids of areas at which other climate records count than before (default none),
#   because  one sentence for the journal.
# Who listens is no business of the sender; a listener answers with the ids of the people it wrote to, or nothing.
evidence_changed = Signal()


def connect_listeners() -> None:
    """Let those listen that the settings name, in their order, which is the order in which they are told."""
    for path in settings.EVIDENCE_LISTENERS:
        evidence_changed.connect(import_string(path), dispatch_uid=path)


def tell_of_evidence(sender: Any, **what: Any) -> set[UUID]:
    """Send `evidence_changed`; the ids of the people who were written to about what follows from it."""
    answers: list[tuple[Any, Any]] = evidence_changed.send(sender=sender, **what)
    return {person for _, written_to in answers for person in written_to or ()}
