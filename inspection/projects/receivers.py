"""What happens in projects when something happens to people."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.dispatch import receiver

from accounts.models import Person
from accounts.signals import access_ended, sight_asked
from inspection.projects.actions import end_memberships
from inspection.projects.queries import who_sees


@receiver(access_ended, dispatch_uid="projects")
def on_access_ended(sender: Any, by: Person, person: Person, at: datetime, **sent: Any) -> None:
    end_memberships(by, person=person, at=at)


@receiver(sight_asked, dispatch_uid="projects")
def on_sight_asked(sender: Any, person: Person, projects: set[UUID], **sent: Any) -> set[UUID]:
    return {project for _, project in who_sees([person.pk], projects)}
