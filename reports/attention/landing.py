"""Each role lands on what it came for."""

from __future__ import annotations

from accounts.models import Person, Role

LANDING = (
    (Role.QUALITY_MANAGER, "decisions"),
    (Role.INSPECTOR, "today"),
    (Role.CLIENT, "board"),
    (Role.CONTRACTOR, "asked_of_us"),
    (Role.AUDITOR, "trace"),
    (Role.ADMINISTRATOR, "people"),
)


def landing_of(person: Person) -> str:
    """The name of the page a person lands on."""
    return next((page for role, page in LANDING if person.has_role(role)), "me")
