"""What runs out or has run out: certificates, qualifications, and equipment in service that has no certificate."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import UTC, date
from functools import partial
from uuid import UUID

from django.db.models import Exists, Max, OuterRef, Q
from django.urls import reverse

from accounts.models import Person, Qualification
from inspection.instruments.models import (
    Certificate,
    CertifiedValue,
    Equipment,
    Gauge,
    InstrumentRules,
    ReferenceStandard,
)
from reports.attention.models import Reminded

# Days before the end at which it is told, and the day itself.
THRESHOLDS = (0, 7, 30, 60)
Key = tuple[str, UUID, date]
KINDS = (("gauge", Gauge), ("standard", ReferenceStandard))


@dataclass(frozen=True)
class Item:
    """One thing that runs out. `due` is its last good day; of equipment without certificate, the first without one."""

    kind: Reminded.Kind
    thing: UUID
    due: date
    name: str
    path: str
    equipment: tuple[Equipment, ...] = ()
    person: Person | None = None

    @property
    def key(self) -> Key:
        """Equipment that loses its certificate a second time is another matter than the first time."""
        return (self.kind, self.thing, self.due)

    @property
    def concerns(self) -> set[Person]:
        """Who holds it or whose it is, of those who have not left."""
        people = {thing.holder for thing in self.equipment} | {self.person}
        return {person for person in people if person and person.is_active}

    def of(self, person: Person) -> Item:
        """As the person's own: only what they hold of it."""
        return replace(self, equipment=tuple(thing for thing in self.equipment if thing.holder_id == person.pk))

    def days_over(self, day: date) -> int:
        return max((day - self.due).days, 0)

    def is_overdue(self, day: date) -> bool:
        return self.kind == Reminded.Kind.EQUIPMENT or self.due < day

    def is_escalated(self, day: date, rules: InstrumentRules) -> bool:
        return self.days_over(day) >= rules.escalate_after_days

    def threshold(self, day: date, rules: InstrumentRules) -> int | None:
        """What has been reached last, in days left (negative: days over); None while there is nothing to tell.

        Equipment is told from its second day without a certificate: on the first one it may just be being registered.
        """
        if self.kind == Reminded.Kind.EQUIPMENT and self.due >= day:
            return None
        return threshold_passed(self.due, day, rules.escalate_after_days)

    def when(self, day: date) -> str:
        return without_since(self.due, day) if self.kind == Reminded.Kind.EQUIPMENT else when(self.due, day)


def threshold_passed(due: date, day: date, escalate_after: int) -> int | None:
    """The threshold in days left that was reached last; None while the end is further off than all of them.

    Once overdue by `escalate_after` days it is the last full stretch of so many days, as a negative number.
    """
    left = (due - day).days
    if -left >= escalate_after:
        return left + -left % escalate_after
    return next((threshold for threshold in THRESHOLDS if left <= threshold), None)


def days(number: int) -> str:
    return f"{number} day{'' if number == 1 else 's'}"


def when(due: date, day: date) -> str:
    left = (due - day).days
    if left == 0:
        return f"runs out today, {due:%Y-%m-%d}"
    if left < 0:
        return f"ran out on {due:%Y-%m-%d}, {days(-left)} ago"
    return f"runs out on {due:%Y-%m-%d}, in {days(left)}"


def without_since(due: date, day: date) -> str:
    over = (day - due).days
    return f"has had no certificate since {due:%Y-%m-%d}" + (f", for {days(over)}" if over > 0 else "")


def running_out(day: date, *kinds: Reminded.Kind) -> list[Item]:
    """All of these kinds that is running on the day or has run out and is not settled, the longest overdue first.

    The number of queries does not grow with what there is.
    """
    sources: dict[Reminded.Kind, Callable[[], Iterable[Item]]] = {
        Reminded.Kind.CERTIFICATE: _certificates,
        Reminded.Kind.QUALIFICATION: _qualifications,
        Reminded.Kind.EQUIPMENT: partial(_uncertified, day),
    }
    items = [item for kind in kinds for item in sources[kind]()]
    return sorted(items, key=lambda item: (not item.is_overdue(day), item.due, item.name))


def _certificates() -> Iterable[Item]:
    for certificate, things in running_certificates().items():
        yield Item(
            Reminded.Kind.CERTIFICATE, certificate.pk, certificate.expires, f"Certificate {certificate}",
            reverse("certificate", args=[certificate.pk]), tuple(things),
        )  # fmt: skip


def _qualifications() -> Iterable[Item]:
    for paper, expires in running_qualifications():
        yield Item(
            Reminded.Kind.QUALIFICATION, paper.pk, expires, str(paper),
            reverse("person", args=[paper.person_id]), person=paper.person,
        )  # fmt: skip


def _uncertified(day: date) -> Iterable[Item]:
    """Equipment in service on which no certificate speaks, or only withdrawn ones, since it became so."""
    for name, model in KINDS:
        speaking = CertifiedValue.objects.filter(_speaks(), **{name: OuterRef("pk")})
        bare = model._default_manager.filter(~Exists(speaking), state=Equipment.State.IN_SERVICE)
        bare = bare.select_related("holder").annotate(
            withdrawn=Max("certified_values__certificate__withdrawn_at"),
            replaced=Max("certified_values__certificate__replaced_by__recorded_at"),
        )
        for thing in bare:
            since = max(moment for moment in (thing.state_since, thing.withdrawn, thing.replaced) if moment)
            due = since.astimezone(UTC).date()
            if due <= day:
                path = reverse(name, args=[thing.pk])
                yield Item(Reminded.Kind.EQUIPMENT, thing.pk, due, str(thing), path, (thing,))


def _speaks() -> Q:
    return Q(certificate__replaced_by=None, certificate__withdrawn_at=None)


def running_certificates() -> dict[Certificate, list[Equipment]]:
    """Each certificate that equipment in service rests on last, with that equipment.

    A certificate replaced, withdrawn or followed by a later one for the same thing is not among them.
    """
    covered: dict[Certificate, list[Equipment]] = defaultdict(list)
    for name, model in KINDS:
        last: dict[UUID, CertifiedValue] = {}
        in_service = CertifiedValue.objects.filter(_speaks(), **{f"{name}__state": model.State.IN_SERVICE})
        for value in in_service.select_related("certificate", f"{name}__holder").order_by("certificate__expires"):
            last[getattr(value, f"{name}_id")] = value
        for value in sorted(last.values(), key=lambda value: str(getattr(value, name))):
            covered[value.certificate].append(getattr(value, name))
    return covered


def running_qualifications() -> list[tuple[Qualification, date]]:
    """The last qualification of each active person under each scheme and its last day, but those that never run out."""
    papers = Qualification.objects.filter(person__is_active=True).standing().select_related("person")
    last = {(paper.person_id, paper.scheme_id): paper for paper in papers}
    return [(paper, paper.expires) for paper in last.values() if paper.expires]


# --- what was told of it ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Told:
    """The days on which a thing was told, by person, and on which of them it was told as escalated."""

    by_person: dict[Person, list[date]] = field(default_factory=lambda: defaultdict(list))
    escalated: set[date] = field(default_factory=set)


def told_before(day: date, items: Iterable[Item]) -> dict[Key, Told]:
    """What had been told of each before the day, in one query."""
    wanted: set[UUID] = {item.thing for item in items}
    told: dict[Key, Told] = defaultdict(Told)
    rows = Reminded.objects.filter(thing__in=wanted, day__lt=day).select_related("person").order_by("day")
    for row in rows:
        one = told[row.kind, row.thing, row.due]
        one.by_person[row.person].append(row.day)
        if row.threshold < 0:
            one.escalated.add(row.day)
    return told
