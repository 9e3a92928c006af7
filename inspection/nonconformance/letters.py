"""Who is told of a nonconformance: that a draft waits to be issued, that one is open, and that it ages."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from django.conf import settings
from django.urls import reverse

from accounts import tidings
from accounts.models import Person, Role
from accounts.tidings import News
from inspection.nonconformance.models import Nonconformance
from inspection.projects.models import Membership

RAISED, AGED = "nonconformance-raised", "nonconformance-aged"
State = Nonconformance.State


def holders(*roles: Role) -> list[Person]:
    """The people in service who hold one of the roles."""
    held = Person.objects.filter(is_active=True, grants__role__in=roles, grants__ended_at=None)
    return list(held.distinct().order_by("pk"))


@dataclass
class Members:
    """Those who take part in one project, by what they see of its nonconformances."""

    parts: list[Membership]
    # Of a painting contractor's people, which of the nonconformances asked about they see.
    seen: dict[UUID, set[UUID]]

    def of(self, row: Nonconformance, *roles: Role) -> list[Person]:
        """Those of a role, and of the party that is asked, as far as they see it."""
        asked = row.asked.organisation_id if row.asked else None
        return [
            part.person
            for part in self.parts
            if (part.role in roles or (asked and part.organisation_id == asked))
            and (part.person_id not in self.seen or row.pk in self.seen[part.person_id])
        ]


def members(rows: Iterable[Nonconformance]) -> dict[UUID, Members]:
    """By nonconformance, who takes part in its project; a query, and one for each of a contractor's people."""
    rows = list(rows)
    found: dict[UUID, list[Membership]] = defaultdict(list)
    parts = Membership.objects.in_force().filter(project__in={row.project_id for row in rows})
    for part in parts.exclude(role=Role.AUDITOR).select_related("person__organisation").order_by("pk"):
        found[part.project_id].append(part)
    narrow = {part.person for parts_of in found.values() for part in parts_of if part.role == Role.CONTRACTOR}
    ids = [row.pk for row in rows]
    seen = {
        person.pk: set(Nonconformance.objects.visible_to(person).filter(pk__in=ids).values_list("pk", flat=True))
        for person in narrow
    }
    return {row.pk: Members(found[row.project_id], seen) for row in rows}


def tell_of_issue(row: Nonconformance, by: Person) -> None:
    """Of a draft the quality managers are told; of an open one the client's and the contractor's people too."""
    people = holders(Role.QUALITY_MANAGER)
    about, words = f"{row.pk}:draft", "waits to be issued"
    if row.state != State.DRAFT:
        people += members([row])[row.pk].of(row, Role.CLIENT, Role.CONTRACTOR)
        about, words = f"{row.pk}:open", "is open"
    tidings.tell_all(RAISED, told_of(row, about, words, [person for person in people if person.pk != by.pk]))


def told_of(row: Nonconformance, about: str, words: str, people: Iterable[Person], *, more: str = "") -> list[News]:
    """One thing for each of the people."""
    page = f"{settings.SITE_URL}{reverse('nonconformance', args=[row.pk])}"
    subject = f"{row.project.code}, NC-{row.number:03d} {words}"
    body = f"{row}: {row.place}.\n{more}{page}\n"
    return [News(about, person, row.project_id, subject, body) for person in dict.fromkeys(people)]
