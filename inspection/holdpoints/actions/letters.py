"""Who is told of a point: that it is ready for them, presented again, or refused. It goes party by party."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from uuid import UUID

from django.conf import settings
from django.db.models import Count, Exists, OuterRef
from django.urls import reverse

from accounts import post, tidings
from accounts.models import Person, Role
from accounts.tidings import News
from inspection.holdpoints.models import Decision, HoldPoint, Requirement
from inspection.holdpoints.party_letters import letters_of
from inspection.plan.models import Meaning
from inspection.projects.models import Membership

ASKED = (Meaning.HOLD, Meaning.WITNESS)
# Why a point is ready; whether what had to come before came is for whoever decides to look at.
RECORDED = "What it requires is recorded."
PRESENTED = "It requires no record, and is presented on site."
BEFORE = "Its page says what it rests on, and what had to come before."


def tell_of(decision: Decision) -> None:
    """A point presented again waits for those who decide; a refusal concerns those who work and who present."""
    point = decision.point
    if decision.outcome == Decision.Outcome.PRESENTED:
        _tell_of(decision, "presented-again", "presented again", members_asked([point], *ASKED)[point.pk])
    elif decision.outcome == Decision.Outcome.REFUSED:
        of_parties = members_asked([point], *ASKED, Meaning.PERFORM)[point.pk] if point.line_id else []
        inspectors = [member for member in _members({point.project_id}) if member.role == Role.INSPECTOR]
        _tell_of(decision, "refused", "refused", [*of_parties, *inspectors], also=_managers())


def tell_of_ready(points: Collection[UUID]) -> None:
    """Tell those who decide or attend of points that are ready now, once after each decision on them; in as many
    questions however many points there are."""
    rows = list(
        HoldPoint.objects.filter(pk__among=points).select_related("project", "area", "coat")
        .annotate(decided=Count("decisions"), asks=Exists(Requirement.objects.filter(point=OuterRef("pk"))))
        .order_by("pk")
    )  # fmt: skip
    asked = members_asked(rows, *ASKED)
    news = [
        News(
            f"{row.pk}:{row.decided}", member.person, row.project_id, f"{row.project.code}, {row}: ready for you",
            f"{RECORDED if row.measured or row.asks else PRESENTED} {BEFORE}\n{_page(row)}\n",
        )
        for row in rows
        for member in asked[row.pk]
    ]  # fmt: skip
    if news:
        tidings.tell_all("point-ready", news)


def members_asked(points: Sequence[HoldPoint], *meanings: str) -> dict[UUID, list[Membership]]:
    """By point, those who take part for the parties that have a letter of such a meaning there.

    Of a point planned by hand, all the clients' people. A painting contractor's only of points in their scope.
    """
    letters = letters_of(points)
    members: dict[UUID, list[Membership]] = defaultdict(list)
    for member in _members({point.project_id for point in points}):
        members[member.project_id].append(member)
    found: dict[UUID, list[Membership]] = {}
    for point in points:
        asked = {each.party.organisation_id for each in letters[point.pk] if each.meaning in meanings}
        found[point.pk] = [
            member
            for member in members[point.project_id]
            if (member.organisation_id in asked if point.line_id else member.role == Role.CLIENT)
        ]
    return _in_sight(points, found)


def _in_sight(points: Sequence[HoldPoint], found: dict[UUID, list[Membership]]) -> dict[UUID, list[Membership]]:
    narrow = {member.person for asked in found.values() for member in asked if member.role == Role.CONTRACTOR}
    seen = {
        person.pk: set(HoldPoint.objects.visible_to(person).filter(pk__among=list(found)).values_list("pk", flat=True))
        for person in narrow
    }
    return {
        point.pk: [
            member for member in found[point.pk] if member.person_id not in seen or point.pk in seen[member.person_id]
        ]
        for point in points
    }


def _members(projects: Collection[UUID]) -> list[Membership]:
    """Whoever takes part, but an auditor, who takes part for nobody."""
    rows = Membership.objects.in_force().filter(project__in=projects).exclude(role=Role.AUDITOR)
    return list(rows.select_related("person").order_by("pk"))


def _managers() -> Sequence[Person]:
    held = {"grants__role": Role.QUALITY_MANAGER, "grants__ended_at": None}
    return list(Person.objects.filter(is_active=True, **held).distinct())


def _tell_of(
    decision: Decision, kind: str, words: str, members: Iterable[Membership], also: Iterable[Person] = ()
) -> None:
    """Each once, but not whoever did it; who said it and why is not a painting contractor's to know."""
    point = decision.point
    said = f"{decision.signed_as}: {decision.reason}" if decision.reason else f"By {decision.signed_as}."
    told = dict.fromkeys(also, f"{said}\n")
    told |= {member.person: "" if member.role == Role.CONTRACTOR else f"{said}\n" for member in members}
    news = [
        News(str(decision.pk), person, point.project_id, f"{point.project.code}, {point}: {words}",
             f"{text}{_page(point)}\n")
        for person, text in told.items()
        if person.pk != decision.person_id
    ]  # fmt: skip
    if news:
        tidings.tell_all(kind, news)


def _page(point: HoldPoint) -> str:
    return f"{settings.SITE_URL}{reverse('point', args=[point.pk])}"


def codes_of(codes: Iterable[str]) -> str:
    return ", ".join(dict.fromkeys(codes))


def write_to_the_signer(decision: Decision) -> None:
    """What was signed, for the signer's own keeping: the letter lies where nobody of the company can alter it."""
    point, zone = decision.point, decision.point.project.zone
    what = f"{point.project.code}, {point}: {decision.get_outcome_display().lower()}"
    reason = f"Reason: {decision.reason}\n" if decision.reason else ""
    post.write(
        "decision", str(decision.pk), to=decision.person, subject=what[:200],
        body=f"{what} by {decision.signed_as}, on {decision.at.astimezone(zone):%Y-%m-%d %H:%M}.\n{reason}"
        f"SHA-256 of the evidence as shown: {decision.evidence_digest}\n\n"
        f"{settings.SITE_URL}{reverse('point', args=[point.pk])}\n",
    )  # fmt: skip


def write_to_the_signer_of(decisions: Sequence[Decision], together: str) -> None:
    """The same of many points under one signature: one letter that names them all."""
    first = decisions[0]
    zone, codes = first.point.project.zone, codes_of(each.point.project.code for each in decisions)
    what = f"{codes}, {len(decisions)} points: {first.get_outcome_display().lower()}"
    lines = "\n".join(
        f"- {each.point.project.code}, {each.point}, {each.point.falls}: evidence {each.evidence_digest}"
        for each in decisions
    )
    post.write(
        "decision", str(first.pk), to=first.person, subject=what[:200],
        body=f"{what} by {first.signed_as}, on {first.at.astimezone(zone):%Y-%m-%d %H:%M}.\n\n{lines}\n\n"
        f"SHA-256 over all evidence as shown: {together}\n\n{settings.SITE_URL}{reverse('board')}\n",
    )  # fmt: skip
