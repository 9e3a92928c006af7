"""Who is told of a point: that it is ready for them, presented again, or refused."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from uuid import UUID

from django.conf import settings
from django.db.models import Count
from django.urls import reverse

from accounts import tidings
from accounts.models import Person, Role
from accounts.tidings import News
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.projects.models import Membership


def tell_of(decision: Decision) -> None:
    """A point presented again waits for those who decide; a refusal concerns those who work and who present."""
    if decision.outcome == Decision.Outcome.PRESENTED:
        _tell_of(decision, "presented-again", "presented again", _people(decision.point, Role.CLIENT))
    elif decision.outcome == Decision.Outcome.REFUSED:
        concerned = [*_people(decision.point, Role.INSPECTOR), *_managers()]
        _tell_of(decision, "refused", "refused", concerned)


def tell_of_ready(points: Collection[UUID]) -> None:
    """Tell those who decide of points that are ready now, once after each decision on them; in as many questions
    however many points there are."""
    rows = list(
        HoldPoint.objects.filter(pk__among=points).select_related("project", "area", "coat")
        .annotate(decided=Count("decisions")).order_by("pk")
    )  # fmt: skip
    members: dict[UUID, list[Person]] = defaultdict(list)
    of_projects = Membership.objects.in_force().filter(project__in={row.project_id for row in rows}, role=Role.CLIENT)
    for member in of_projects.select_related("person"):
        members[member.project_id].append(member.person)
    news = [
        News(
            f"{row.pk}:{row.decided}", person, row.project_id, f"{row.project.code}, {row}: ready for you",
            f"What it requires is recorded, and nothing stands against it.\n{_page(row)}\n",
        )
        for row in rows
        for person in members[row.project_id]
    ]  # fmt: skip
    if news:
        tidings.tell_all("point-ready", news)


def _people(point: HoldPoint, role: Role) -> list[Person]:
    members = Membership.objects.in_force().filter(project=point.project_id, role=role).select_related("person")
    return [member.person for member in members.order_by("pk")]


def _managers() -> Sequence[Person]:
    held = {"grants__role": Role.QUALITY_MANAGER, "grants__ended_at": None}
    return list(Person.objects.filter(is_active=True, **held).distinct())


def _tell_of(decision: Decision, kind: str, words: str, people: Iterable[Person]) -> None:
    """Each once, but not whoever did it."""
    point = decision.point
    said = f"{decision.signed_as}: {decision.reason}" if decision.reason else f"By {decision.signed_as}."
    news = [
        News(str(decision.pk), person, point.project_id, f"{point.project.code}, {point}: {words}",
             f"{said}\n{_page(point)}\n")
        for person in {person.pk: person for person in people if person.pk != decision.person_id}.values()
    ]  # fmt: skip
    if news:
        tidings.tell_all(kind, news)


def _page(point: HoldPoint) -> str:
    return f"{settings.SITE_URL}{reverse('point', args=[point.pk])}"
