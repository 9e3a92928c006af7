"""Who reads what the company has chosen for its instruments: its own people, and auditors."""

from __future__ import annotations

from accounts.models import Person, Role
from inspection.foundation.refusals import NotAllowed


def reads_rules(person: Person) -> bool:
    return bool(person.roles) and (person.is_company or person.has_role(Role.AUDITOR))


def may_read(person: Person) -> None:
    """Raise NotAllowed unless the person reads the rules."""
    if not reads_rules(person):
        raise NotAllowed("The rules for instruments are read by the company's own people and by auditors.")
