"""What reports do when something below them changes."""

from __future__ import annotations

from typing import Any

from django.dispatch import receiver

from accounts.models import Person
from accounts.signals import keys_ended
from reports.attention.calendar import revoke_all


@receiver(keys_ended, dispatch_uid="reports.attention.calendar")
def end_calendar_links(sender: Any, person: Person, by: Person, **told: Any) -> None:
    revoke_all(person, by=by)
