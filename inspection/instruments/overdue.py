"""What has run out: the certificate of an instrument, the qualification of a person. It blocks, or is warned of.

Which of the two, the company chooses in its instrument rules. Only the beginning of work can be blocked: what has been
measured already is kept, with a warning.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from uuid import UUID

from accounts.models import Person, Qualification
from inspection.foundation.refusals import Fault, Refused
from inspection.instruments.models import Certificate, Gauge, InstrumentRules, ReferenceStandard, Verification
from inspection.instruments.queries import Reliance
from inspection.projects.models import Project


def reasons(day: date, things: Iterable[Gauge | ReferenceStandard]) -> dict[UUID, str]:
    """By gauge or standard id, which certificate expired and when, for each whose certificate has run out that day."""
    things = list(things)
    gauges = [thing for thing in things if isinstance(thing, Gauge)]
    standards = [thing for thing in things if isinstance(thing, ReferenceStandard)]
    reliance = Reliance.on(day, gauges=gauges, standards=standards)
    return {thing.pk: why for thing in things if (why := reliance.overdue(thing))}


def of_meters(day: date, meters: Iterable[Gauge]) -> dict[UUID, str]:
    """By id, why a climate meter cannot be relied on that day: run out, withdrawn, or never certified.

    No check on shims would find the last two out later, as it does for a thickness gauge.
    """
    meters = list(meters)
    reliance = Reliance.on(day, gauges=meters)
    return {meter.pk: why for meter in meters if (why := reliance.why_not(meter))}


def of_things(day: date, things: Iterable[Gauge | ReferenceStandard]) -> dict[UUID, str]:
    """What `reasons` finds, as whole sentences that name the thing."""
    things = list(things)
    return sentences(things, reasons(day, things))


def sentences(things: Iterable[Gauge | ReferenceStandard], why: dict[UUID, str]) -> dict[UUID, str]:
    return {thing.pk: f"{thing}: {why[thing.pk]}." for thing in things if thing.pk in why}


class PersonsPapers:
    """The papers of a person, read once, whatever days and projects they are held against."""

    def __init__(self, person: Person) -> None:
        self._person = person
        self._papers = list(Qualification.objects.filter(person=person).standing())

    def against(self, day: date, project: Project | None = None) -> list[str]:
        """A sentence for each scheme whose newest paper has run out on the day, or that the project asks for in vain.

        Of a scheme that nobody asks for, no paper is no fault.
        """
        newest: dict[UUID, Qualification] = {paper.scheme_id: paper for paper in self._papers if paper.issued <= day}
        asked = project.schemes_asked.all() if project else ()
        return [
            *(
                f"{self._person}: qualification {paper}, number {paper.number}, ran out on {paper.expires:%Y-%m-%d}."
                for paper in newest.values()
                if paper.expires and paper.expires < day
            ),
            *(
                f"{self._person}: no qualification {scheme} is recorded, which project {project.code} asks for."
                for scheme in asked
                if project and scheme.pk not in newest
            ),
        ]


def of_person(person: Person, day: date, project: Project | None = None) -> list[str]:
    """What `PersonsPapers` says of one day, on a project where it is known which."""
    return PersonsPapers(person).against(day, project)


def of_check(check: Verification) -> list[str]:
    """A sentence for each thing of a check, read `with_points`, whose certificate had run out on its day.

    Seen with what is known now: a certificate of the gauge that covers the day may have been recorded since.
    """
    day = check.project.day_of(check.taken_at)
    found = of_things(day, [check.gauge])
    for point in check.points.all():
        for use in point.uses.all():
            standard, paper = use.certified_value.standard, _newest_version(use.certified_value.certificate)
            if standard and not paper.withdrawn_at and day > paper.expires:
                found[standard.pk] = f"{standard}: {paper.unusable_because(day)}."
    return list(found.values())


def withdrawn_since(check: Verification) -> list[str]:
    """A sentence for each thing of a check, read `with_points`, whose certificate was withdrawn after it was made."""
    uses = [use for point in check.points.all() for use in point.uses.all()]
    standards = {standard.pk: standard for use in uses if (standard := use.certified_value.standard)}
    day = check.project.day_of(check.taken_at)
    things: list[Gauge | ReferenceStandard] = [check.gauge, *standards.values()]
    reliance = Reliance.on(day, gauges=[check.gauge], standards=standards.values(), at=check.taken_at)
    return list(sentences(things, {thing.pk: why for thing in things if (why := reliance.since(thing))}).values())


def _newest_version(paper: Certificate) -> Certificate:
    while newer := getattr(paper, "replaced_by", None):
        paper = newer
    return paper


def faults(
    day: date, *, by: Person | None = None, gauge: Gauge | None = None, project: Project | None = None
) -> list[Fault]:
    """What has run out of what work begins with: the gauge, and the person who begins it."""
    gauges = [gauge] if gauge else []
    of_gauge = of_meters if gauge and gauge.kind == Gauge.Kind.CLIMATE else reasons
    return [
        *(Fault(words, "gauge") for words in sentences(gauges, of_gauge(day, gauges)).values()),
        *(Fault(words) for words in (of_person(by, day, project) if by else ())),
    ]


def begin(found: list[Fault]) -> list[str]:
    """Raise Refused for what has run out where the company blocks it; where it warns, the words of the warning."""
    if found and not InstrumentRules.now().warns:
        raise Refused(found)
    return words(found)


def words(found: Iterable[Fault]) -> list[str]:
    return [fault.message for fault in found]
