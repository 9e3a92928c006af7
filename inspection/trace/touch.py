"""What withdrawing or correcting a certificate touches, before it is done: set by set, in SQL wherever it is many."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from functools import cached_property
from uuid import UUID

from django.db.models import Count, Exists, OuterRef, Q, Sum
from django.utils import timezone

from accounts.models import Person, Role
from inspection.fieldwork.models import ThicknessRecord
from inspection.holdpoints.ground import with_ground
from inspection.holdpoints.models import HoldPoint
from inspection.instruments.actions.certificates import StandardValue
from inspection.instruments.models import Certificate, CertifiedValue, StandardUse, Verification
from inspection.projects.models import Project
from inspection.standing.checks import Assumed, Correction, checks_of
from inspection.standing.models import Standing
from inspection.standing.papers import Papers
from inspection.standing.queries import compute
from inspection.trace.flips import Flip, flips
from inspection.trace.kinds import kind_named, kinds, links
from inspection.trace.queries import certificates_above, versions

WITHDRAWN, CORRECTED, REINSTATED = "withdrawn", "corrected", "reinstated"
SHOWN = 25
IN_QUESTION = Standing.State.IN_QUESTION


@dataclass(frozen=True)
class OfProject:
    """How many records, and readings in them, of one project change their standing."""

    project: Project
    records: int
    readings: int


@dataclass(frozen=True)
class Touched:
    """What would change, or what has changed: the checks that no longer count, and all that stands on them."""

    verifications: Sequence[UUID]
    # By record: its standing before and after.
    changes: Mapping[UUID, tuple[str, str]]
    flips: Sequence[Flip]
    points: Sequence[HoldPoint]
    reports: Sequence[UUID]

    @cached_property
    def by_project(self) -> list[OfProject]:
        rows = (
            ThicknessRecord.objects.filter(pk__among=list(self.changes))
            .order_by()
            .values("project")
            .annotate(records=Count("pk"), taken=Sum("reading_count"))
        )
        counted = {row["project"]: row for row in rows}
        projects = Project.objects.filter(pk__in=list(counted))
        return [OfProject(each, counted[each.pk]["records"], counted[each.pk]["taken"]) for each in projects]

    @cached_property
    def readings(self) -> int:
        return sum(row.readings for row in self.by_project)

    @cached_property
    def newest(self) -> list[ThicknessRecord]:
        """The newest of the records, to show."""
        rows = ThicknessRecord.objects.filter(pk__among=list(self.changes)).select_related("project", "area", "coat")
        return list(rows.defer("inputs", "result").order_by("-taken_at", "pk")[:SHOWN])

    @cached_property
    def people(self) -> list[Person]:
        """Those to be told: quality managers, and whoever the kinds of things that lose their ground name."""
        lost: dict[str, list[UUID]] = {
            "thickness": list(self.changes),
            "holdpoint": [point.pk for point in self.points],
            "report": list(self.reports),
        }
        named: set[UUID] = set()
        for kind in kinds():
            if lost.get(kind.name):
                named.update(kind.told(lost[kind.name]))
        if any(lost.values()) or self.verifications:
            managers = Person.objects.filter(grants__role=Role.QUALITY_MANAGER, grants__ended_at=None)
            named.update(managers.values_list("pk", flat=True))
        people = Person.objects.filter(pk__in=named, is_active=True).select_related("organisation")
        return list(people.order_by("organisation__kind", "name"))


def touched_by(certificate: Certificate, corrected: Sequence[StandardValue] = ()) -> Touched:
    """What withdrawing the certificate would touch; or, with corrected values, what those would."""
    return _by_correction(certificate, corrected) if corrected else _by_withdrawal(certificate)


def _by_withdrawal(certificate: Certificate) -> Touched:
    checks = relying_on(certificate)
    changes = {pk: (state, str(IN_QUESTION)) for pk, state in standings_on(checks).items() if state != IN_QUESTION}
    passing = Verification.objects.filter(pk__among=checks, verdict=Verification.Verdict.PASS)
    return _touched(list(passing.values_list("pk", flat=True)), changes, ())


def _by_correction(certificate: Certificate, corrected: Sequence[StandardValue]) -> Touched:
    assumed = assuming(certificate, corrected)
    uses = StandardUse.objects.filter(certified_value__certificate__in=versions([certificate.pk]))
    used_on = Verification.objects.filter(pk__in=uses.values("point__verification"))
    rows = list(used_on.select_related("gauge", "project").defer("inputs", "result", "note"))
    now, then = checks_of(rows), checks_of(rows, assumed)
    other = [pk for pk, check in now.items() if check != then[pk]]
    stored = standings_on(other)
    judged = compute(stored, timezone.now(), assumed)
    changes = {pk: (stored[pk], judged[pk].state) for pk in stored if stored[pk] != judged[pk].state}
    failing = [pk for pk in other if now[pk].passed and not then[pk].passed]
    return _touched(failing, changes, flips(assumed))


def assuming(certificate: Certificate, corrected: Iterable[StandardValue]) -> Assumed:
    """The values as the next version of the certificate would state them."""
    name, coverage = f"{certificate.number} v{certificate.version + 1}", float(certificate.coverage_factor)
    return {
        (certificate.pk, value.standard.pk): Correction(name, value.value_nm, value.expanded_uncertainty_nm, coverage)
        for value in corrected
    }


def standings_on(checks: Sequence[UUID]) -> dict[UUID, str]:
    """By record that was measured between two of the checks, or beside one: its standing as stored."""
    rows = Standing.objects.filter(Q(opening__among=checks) | Q(closing__among=checks))
    return dict(rows.values_list("record", "state"))


def relying_on(certificate: Certificate) -> list[UUID]:
    """The checks that would have nothing to rely on without the certificate and those traceable to it."""
    papers = set(certificates_above(versions([certificate.pk])))
    uses = StandardUse.objects.filter(certified_value__certificate__in=papers)
    checks = set(uses.order_by().values_list("point__verification", flat=True).distinct())
    return list(checks | _of_gauges(papers))


def _of_gauges(lost: set[UUID]) -> set[UUID]:
    """Checks of gauges that these certificates cover on their day, and no other that can be relied on does."""
    current = CertifiedValue.objects.exclude(gauge=None).filter(certificate__replaced_by=None)
    covering = list(current.filter(certificate__in=lost).select_related("certificate"))
    if not covering:
        return set()
    named: dict[UUID, set[UUID]] = defaultdict(set)
    of_gauges = current.filter(gauge__in={value.gauge_id for value in covering})
    for gauge, paper in of_gauges.values_list("gauge", "certificate"):
        named[gauge].add(paper)
    papers = Papers({paper for found in named.values() for paper in found})
    dates = {value.certificate_id: (value.certificate.issued, value.certificate.expires) for value in covering}
    # A day more on either side: which day a check belongs to is its project's own.
    first = min(issued for issued, _ in dates.values()) - timedelta(days=2)
    last = max(expires for _, expires in dates.values()) + timedelta(days=2)
    checks = Verification.objects.filter(gauge__in=list(named), taken_at__date__gte=first, taken_at__date__lte=last)
    found = set()
    for check in checks.select_related("project").only("gauge", "taken_at", "project"):
        on = check.project.day_of(check.taken_at)
        of_gauge = named[check.gauge_id]
        covered = any(dates[paper][0] <= on <= dates[paper][1] for paper in of_gauge & lost)
        if covered and all(papers.doubt(paper, on) for paper in of_gauge - lost):
            found.add(check.pk)
    return found


def _touched(verifications: Sequence[UUID], changes: dict[UUID, tuple[str, str]], turned: Sequence[Flip]) -> Touched:
    worse = [pk for pk, (_, after) in changes.items() if after == IN_QUESTION]
    lost = worse + [flip.record.pk for flip in turned if flip.would_be == ThicknessRecord.Verdict.FAIL]
    return Touched(verifications, changes, turned, points_on(lost), reports_on(lost, verifications))


def points_on(records: Sequence[UUID]) -> list[HoldPoint]:
    """Released points whose evidence is one of the records."""
    if not records:
        return []
    of_place = ThicknessRecord.objects.filter(pk__among=records, area=OuterRef("area"), coat=OuterRef("coat"))
    points = HoldPoint.objects.filter(Exists(of_place), state=HoldPoint.State.RELEASED)
    grounded = with_ground(points).select_related("project", "area", "coat")
    wanted = set(records)
    return [point for point in grounded.order_by("project__code", "area__code") if point.record_id in wanted]


def reports_on(records: Sequence[UUID], checks: Sequence[UUID]) -> list[UUID]:
    """Issued reports that rest on the records or the checks; none while no room above holds reports."""
    below: dict[str, Sequence[UUID]] = {"thickness": records, "verification": checks}
    found: set[UUID] = set()
    if kind_named("report"):
        for link in links():
            if link.above == "report" and below.get(link.below):
                found.update(link.resting_on(below[link.below]))
    return list(found)
