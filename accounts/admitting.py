"""Confirming people of other organisations, or turning them away."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from accounts import admission, journal
from accounts.actions import close_access
from accounts.models import Person
from inspection.foundation.refusals import Conflict, NotAllowed
from inspection.foundation.text import line


@transaction.atomic
def confirm(by: Person, *, person: Person, at: datetime | None = None) -> Person:
    """Say that somebody is of their organisation; from now their roles hold. Raises NotAllowed for who invited them."""
    at = at or timezone.now()
    locked = _waiting(by, person)
    locked.confirmed_by, locked.confirmed_at = by, at
    locked.admission = f"{locked.admission}; {admission.confirmed_words(by, at)}"
    locked.save(update_fields=["confirmed_by", "confirmed_at", "admission"])
    journal.record("person.confirmed", locked, by=by, after={"admission": locked.admission}, at=at)
    admission.tell_of_confirmation(locked, by, at)
    return locked


@transaction.atomic
def turn_away(by: Person, *, person: Person, reason: str) -> None:
    """Say that somebody who waits is not of their organisation: their access is closed. A new invitation opens it."""
    reason = line(reason, field="reason", most=300)
    locked = _waiting(by, person)
    roles = close_access(by, locked)
    journal.record("person.turned_away", locked, by=by, before={"roles": roles}, reason=reason)


def _waiting(by: Person, person: Person) -> Person:
    locked = Person.objects.select_for_update(of=("self",)).select_related("organisation").get(pk=person.pk)
    if locked.confirmed_at or not locked.is_active:
        raise Conflict(f"{locked.name} does not wait any more; somebody confirmed them or turned them away meanwhile.")
    if not admission.may_confirm(by, locked):
        raise NotAllowed(
            f"Only somebody of {locked.organisation} who is confirmed, or a quality manager or administrator who did "
            f"not invite {locked.name}, may answer for them."
        )
    return locked
