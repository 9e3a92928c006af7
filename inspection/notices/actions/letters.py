"""Who is written to of a notice: the people of the parties it is given to, each once for each time and place."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.conf import settings
from django.urls import reverse

from accounts import tidings
from accounts.models import Person
from accounts.tidings import News
from inspection.notices.appointment import Method, appointment
from inspection.notices.models import Notice
from inspection.notices.queries import what_of
from inspection.notices.wording import telling
from inspection.projects.models import KINDS_OF_ROLE, Membership, Party

HEADS = {
    "given": "inspection notified for {when}",
    "moved": "inspection moved to {when}",
    "withdrawn": "inspection of {when} withdrawn",
    "restored": "inspection of {when} is held after all",
}


def tell_of(notice: Notice, *, at: datetime, what: str = "given", reason: str = "") -> None:
    """Write to everybody whom the notice concerns but whoever did it; the letter carries the appointment."""
    project = notice.project
    when = f"{notice.begins_at.astimezone(project.zone):%Y-%m-%d %H:%M}"
    told = telling(notice, what_of([notice.pk])[notice.pk])
    page = f"{settings.SITE_URL}{reverse('notice', args=[notice.pk])}"
    subject = f"{project.code}, {notice}: {HEADS[what].format(when=when)}"
    body = f"{told}\n{f'Why: {reason}{chr(10)}' if reason else ''}\n{page}\n"
    method = Method.CANCEL if what == "withdrawn" else Method.REQUEST
    people = list(addressed(notice))
    news = [
        News(
            f"{notice.pk}:{notice.sequence}", person, project.pk, subject, body,
            appointment(notice, told, method=method, at=at, to=person),
        )
        for person in people
    ]  # fmt: skip
    if news:
        tidings.tell_all("notice", news)


def addressed(notice: Notice) -> Iterable[Person]:
    """The people of the notice's parties who see it, without whoever gave its last step."""
    parties = [row.party for row in notice.parties.select_related("party")]
    last = notice.steps.order_by("-number").values_list("person", flat=True).first()
    rows = Membership.objects.in_force().filter(
        project=notice.project_id, organisation__in={party.organisation_id for party in parties}
    )
    seen: dict[object, bool] = {}
    for member in rows.select_related("person").order_by("person__name", "pk"):
        person = member.person
        if person.pk == last or not any(_is_of(member, party) for party in parties):
            continue
        if person.is_contractors:
            # The people of one contractor see the same of it.
            if member.organisation_id not in seen:
                sight = Notice.objects.visible_to(person).filter(pk=notice.pk)
                seen[member.organisation_id] = sight.exists()
            if not seen[member.organisation_id]:
                continue
        yield person


def _is_of(member: Membership, party: Party) -> bool:
    mine = member.organisation_id == party.organisation_id
    return mine and party.kind in KINDS_OF_ROLE.get(member.role, (party.kind,))
