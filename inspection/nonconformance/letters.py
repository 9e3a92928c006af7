"""Who is told of a nonconformance: that a draft waits to be issued, that one is open, and that it ages."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

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


def members(row: Nonconformance, *roles: Role) -> list[Person]:
    """Those of a role who take part in its project, and those of the party that is asked, as far as they see it."""
    parts = Membership.objects.in_force().filter(project=row.project_id).select_related("person").order_by("pk")
    found = dict.fromkeys(
        part.person
        for part in parts
        if part.role in roles or (row.asked and part.organisation_id == row.asked.organisation_id)
    )
    narrow = [person for person in found if person.is_contractors]
    unseen = [person for person in narrow if not Nonconformance.objects.visible_to(person).filter(pk=row.pk).exists()]
    return [person for person in found if person not in unseen]


def tell_of_issue(row: Nonconformance, by: Person) -> None:
    """Of a draft the quality managers are told; of an open one the client's and the contractor's people too."""
    managers = holders(Role.QUALITY_MANAGER)
    if row.state == State.DRAFT:
        tell(RAISED, row, f"{row.pk}:draft", "waits to be issued", managers, but=by)
    else:
        people = [*managers, *members(row, Role.CLIENT, Role.CONTRACTOR)]
        tell(RAISED, row, f"{row.pk}:open", "is open", people, but=by)


def tell(
    kind: str, row: Nonconformance, about: str, words: str, people: Iterable[Person], *, but: Person | None = None,
    more: str = "",
) -> int:  # fmt: skip
    """Tell each of the people once; how many are new."""
    page = f"{settings.SITE_URL}{reverse('nonconformance', args=[row.pk])}"
    subject = f"{row.project.code}, NC-{row.number:03d} {words}"
    body = f"{row}: {row.place}.\n{more}{page}\n"
    told: Sequence[Person] = [person for person in dict.fromkeys(people) if but is None or person.pk != but.pk]
    return tidings.tell_all(kind, [News(about, person, row.project_id, subject, body) for person in told])
