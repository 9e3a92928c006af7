"""Who may do what. Sight (which rows) is each model's visible_to(person); this is about deeds."""

from __future__ import annotations

from accounts.models import Person, Role
from inspection.foundation.refusals import NotAllowed


def require(person: Person, *roles: Role, to: str) -> None:
    """Raise NotAllowed with a sentence unless the person holds one of the roles. `to` completes 'You need ... to'."""
    if not person.has_role(*roles):
        names = " or ".join(Role(role).label.lower() for role in roles)
        raise NotAllowed(f"Only the role of {names} may {to}.")
