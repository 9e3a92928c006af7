"""A plan in force on the cast's project, set as rows, and its lines applied to areas."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from accounts.models import Organisation, Person, Role
from inspection.plan.models import Intervention, LineRequirement, Plan, PlanLine, PlanRevision
from inspection.projects.models import Membership, Party
from tests.cast import Cast, person

LETTERS = {"hold": "H", "witness": "W", "review": "R", "monitor": "M", "perform": "P"}


def plan_of(cast: Cast, number: int = 1, state: str = "in_force") -> PlanRevision:
    plan, _ = Plan.objects.get_or_create(project=cast.site.project, defaults={"name": "Plan"})
    return PlanRevision.objects.create(plan=plan, number=number, state=state, applies_from=timezone.now().date())


def a_line(
    revision: PlanRevision, number: str = "1", *, coat: int | None = 1, needs: tuple[str, ...] = ("thickness",),
    letters: dict[str, str] | None = None, more: dict[str, Any] | None = None, **columns: Any,
) -> PlanLine:  # fmt: skip
    """Held by the client unless `letters` give the meaning by kind of party; `more` are columns of its requirements."""
    line = PlanLine.objects.create(
        revision=revision, number=number, activity="thickness", title=f"Line {number}", frequency="every area",
        criterion="as specified", coat_order=coat, **columns,
    )  # fmt: skip
    for kind in needs:
        LineRequirement.objects.create(line=line, kind=kind, **(more or {}))
    for kind, meaning in (letters or {"client": "hold"}).items():
        Intervention.objects.create(line=line, party_kind=kind, letter=LETTERS[meaning], meaning=meaning)
    return line


def an_owner(cast: Cast) -> Person:
    """Somebody of the ship's owner, another party of the project with the right to decide."""
    organisation = Organisation.objects.create(name="Far Shipping", kind=Organisation.Kind.CLIENT)
    Party.objects.create(project=cast.site.project, organisation=organisation, kind=Party.Kind.OWNER)
    owner = person("Olga Owner", organisation, Role.CLIENT)
    Membership.objects.create(project=cast.site.project, person=owner, organisation=organisation, role=Role.CLIENT)
    return owner
