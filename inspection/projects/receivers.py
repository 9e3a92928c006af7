"""What happens in projects when something happens to people."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.dispatch import receiver

from accounts.models import Person
from accounts.signals import access_ended
from inspection.projects.actions import end_memberships


@receiver(access_ended, dispatch_uid="projects")
def on_access_ended(sender: Any, by: Person, person: Person, at: datetime, **sent: Any) -> None:
    end_memberships(by, person=person, at=at)
