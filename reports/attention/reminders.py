"""Who is told what runs out, and when: one letter a person and day, each thing and threshold once to each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import UTC, date, datetime

from django.db import transaction
from django.utils import timezone

from accounts import post
from accounts.models import Letter, Person, Role, RoleGrant
from inspection.instruments.models import InstrumentRules
from reports.attention.digest import digest
from reports.attention.models import Reminded
from reports.attention.running_out import Item, Key, Told, running_out, told_before

KIND = "reminders"


def remind(at: datetime | None = None) -> int:
    """Write to each person what has newly come to a threshold on the day (UTC) of the moment; returns how many letters.

    After days without a worker only the threshold passed last is told, once. Each person's letter and what it told are
    one transaction: a worker that dies leaves both or neither.
    """
    day = (at or timezone.now()).astimezone(UTC).date()
    rules = InstrumentRules.now()
    items = [item for item in running_out(day, *Reminded.Kind) if item.threshold(day, rules) is not None]
    told = told_before(day, [item for item in items if item.is_escalated(day, rules)])
    return sum(
        _tell(person, mine, day, rules, told)
        for person, mine in sorted(_shares(items, day, rules).items(), key=lambda share: share[0].name)
    )


def _shares(items: Iterable[Item], day: date, rules: InstrumentRules) -> dict[Person, list[Item]]:
    """What concerns each: managers all, administrators what is escalated, others what they hold and their own."""
    staff: dict[str, set[Person]] = defaultdict(set)
    grants = RoleGrant.objects.filter(ended_at=None, person__is_active=True).select_related("person")
    for grant in grants.filter(role__in=(Role.QUALITY_MANAGER, Role.ADMINISTRATOR)):
        staff[grant.role].add(grant.person)
    shares: dict[Person, list[Item]] = defaultdict(list)
    for item in items:
        told = staff[Role.QUALITY_MANAGER]
        if item.is_escalated(day, rules):
            told = told | staff[Role.ADMINISTRATOR]
        for person in told:
            shares[person].append(item)
        for person in item.concerns - told:
            shares[person].append(item.of(person))
    return shares


@transaction.atomic
def _tell(person: Person, mine: list[Item], day: date, rules: InstrumentRules, told: dict[Key, Told]) -> bool:
    """Write the person's letter of the day, if there is something new for them; whether there was.

    Their row is held meanwhile, so that a second worker waits and then finds it done.
    """
    Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    about = f"{person.pk}:{day}"
    if Letter.objects.filter(kind=KIND, about=about).exists():
        return False
    known = Reminded.objects.filter(person=person, thing__in={item.thing for item in mine})
    done = set(known.values_list("kind", "thing", "due", "threshold"))
    reached = ((item, item.threshold(day, rules)) for item in mine)
    new = {item: at for item, at in reached if at is not None and (*item.key, at) not in done}
    if not new:
        return False
    still = [item for item in mine if item not in new and item.is_overdue(day)]
    subject, body = digest(person, list(new), still, day=day, rules=rules, told=told)
    post.write(KIND, about, to=person, subject=subject, body=body)
    letter = Letter.objects.get(kind=KIND, about=about)
    Reminded.objects.bulk_create(
        Reminded(
            person=person, kind=item.kind, thing=item.thing, due=item.due, threshold=at, day=day, letter=letter
        )
        for item, at in new.items()
    )  # fmt: skip
    return True
