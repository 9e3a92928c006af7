"""What withdrawing or correcting a certificate touches, before it is done: one statement, however many it touches."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef, Q, QuerySet, Value
from django.utils import timezone

from accounts.models import Organisation, Person, Role
from inspection.fieldwork.kind import Reliance
from inspection.fieldwork.kinds import names
from inspection.fieldwork.models import Record
from inspection.foundation.statement import Found, Statement, looked_up, over_tables
from inspection.holdpoints.ground import OF_MEASUREMENT, grounded, required
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.instruments.actions import StandardValue
from inspection.instruments.models import Certificate, CertifiedValue, StandardUse, Verification
from inspection.projects.models import Membership, Project
from inspection.recall.flips import Flip, flips
from inspection.standing import certified, profile_used
from inspection.standing.checks import Assumed, Correction, checks_of
from inspection.standing.models import Standing
from inspection.standing.papers import Papers
from inspection.standing.queries import compute
from inspection.trace.kinds import OF_KIND, RECORDS, Ids, kind_named, links, narrowed
from inspection.trace.queries import Layer, certificates_above, counted, layers_of, versions

WITHDRAWN, CORRECTED, REINSTATED = "withdrawn", "corrected", "reinstated"
SHOWN = 25
IN_QUESTION = Standing.State.IN_QUESTION
# The kinds of records whose standing can change with a certificate.
RELIED_ON = names(Reliance.CERTIFIED, Reliance.CHECKED)
NAMES = ("verification", *RELIED_ON, "holdpoint", "report")


@dataclass(frozen=True)
class OfProject:
    """How many records, and readings in them, of one project change their standing."""

    project: Project
    records: int
    readings: int


@dataclass(frozen=True)
class Touched:
    """What would change: how many things of each kind and the newest of them, by project, and whom to tell."""

    layers: Sequence[Layer]
    by_project: Sequence[OfProject]
    flips: Sequence[Flip]
    people: Sequence[Person]
    # Only where values are corrected: the checks that then fail, those that pass again, the records that regain what
    # an earlier correction took from them, and how many released points stand on those.
    failing: Sequence[UUID] = ()
    again: Sequence[UUID] = ()
    regained: Sequence[UUID] = ()
    points_again: int = 0

    def many(self, name: str) -> int:
        return next((layer.total for layer in self.layers if layer.kind.name == name), 0)

    @property
    def verifications(self) -> int:
        return self.many("verification")

    @property
    def records(self) -> int:
        return sum(row.records for row in self.by_project)

    @property
    def readings(self) -> int:
        return sum(row.readings for row in self.by_project)

    @property
    def points(self) -> int:
        return self.many("holdpoint")

    @property
    def checks_lost(self) -> int:
        return self.verifications - len(self.again)

    @property
    def points_lost(self) -> int:
        return self.points - self.points_again

    @property
    def reports(self) -> int:
        return self.many("report")


def touched_by(certificate: Certificate, by: Person, corrected: Sequence[StandardValue] = ()) -> Touched:
    """What withdrawing the certificate would touch; or, with corrected values, what those would."""
    if corrected:
        return _by_correction(certificate, corrected, by)
    asked = Statement()
    asked.add("check", relying_on(certificate))
    losing = _certified_losing(certificate)
    asked.add("changed", [*_losing(asked.ids_of("check")), *_these(losing)])
    passing = narrowed(
        Verification.objects.current().filter(verdict=Verification.Verdict.PASS), "pk", asked.ids_of("check")
    )
    return _touched(asked, passing, (), by)


def resting_on(certificate: Certificate) -> int:
    """How many measurements rest on the certificate, whatever their standing: what a recall has to judge again."""
    asked = Statement()
    asked.add("check", relying_on(certificate))
    rows = Standing.objects.order_by()
    ends = [narrowed(rows, end, asked.ids_of("check")).values("record") for end in ("opening", "closing")]
    asked.add("record", ends)
    return int(asked.rows("SELECT count(*) FROM set_record")[0][0])


def _losing(checks: Ids) -> list[QuerySet[Any]]:
    """Records that rest on one of the checks, and are not in question already."""
    standings = Standing.objects.exclude(state=IN_QUESTION).order_by()
    return [narrowed(standings, end, checks).values("record") for end in ("opening", "closing")]


def _certified_losing(certificate: Certificate) -> list[UUID]:
    """Records that rest on the certificate itself, or one traceable to it, would lose it, and are not in question."""
    papers = set(certificates_above(versions([certificate.pk])))
    sound = Standing.objects.exclude(state=IN_QUESTION).filter(record__among=certified.resting_on(papers))
    found = certified.judged(list(sound.values_list("record", flat=True)), lost=papers)
    corrected = profile_used.resting_on_certificates(papers)
    by_profile = Standing.objects.exclude(state=IN_QUESTION).filter(record__among=corrected)
    losing = profile_used.doubts(profile_used.taken_by(by_profile.values_list("record", flat=True)), lost=papers)
    return [*(pk for pk, judgement in found.items() if judgement.state == IN_QUESTION), *losing]


def _these(records: Sequence[UUID]) -> list[QuerySet[Any]]:
    """The records as a set of a statement; none for none."""
    return [narrowed(Record.objects.order_by(), "pk", records).values("pk")] if records else []


def _by_correction(certificate: Certificate, corrected: Sequence[StandardValue], by: Person) -> Touched:
    assumed = assuming(certificate, corrected)
    uses = StandardUse.objects.filter(certified_value__certificate__in=versions([certificate.pk]))
    used_on = Verification.objects.current().filter(pk__in=uses.values("point__verification"))
    rows = list(used_on.select_related("gauge", "project").defer("inputs", "result", "note"))
    now, then = checks_of(rows), checks_of(rows, assumed)
    stored = standings_on([pk for pk, check in now.items() if check != then[pk]])
    judged = compute(stored, timezone.now(), assumed, then)
    changed = [pk for pk in stored if stored[pk] != judged[pk].state]
    turned = flips(assuming(certificate, _next_values(certificate, corrected)))
    thin = turned_thin(turned)
    regained = [pk for pk in changed if stored[pk] == IN_QUESTION]
    if certificate.replaces_id:
        regained += sorted(turned_thin(flips(assuming(certificate, _next_values(certificate, ())))) - thin)
    failing = [pk for pk, check in now.items() if check.passed and not then[pk].passed]
    again = [pk for pk, check in now.items() if not check.passed and then[pk].passed]
    asked = Statement()
    asked.add("check", [narrowed(Verification.objects.order_by(), "pk", failing + again).values("pk")])
    asked.add("changed", [narrowed(Record.objects.order_by(), "pk", changed).values("pk")])
    ground = list({*changed, *thin, *regained})
    asked.add("ground", [narrowed(Record.objects.order_by(), "pk", ground).values("pk")])
    checks = narrowed(Verification.objects.all(), "pk", asked.ids_of("check"))
    found = _touched(asked, checks, turned, by)
    points_again = points_on(regained).count()
    return replace(found, failing=failing, again=again, regained=regained, points_again=points_again)


def turned_thin(turned: Iterable[Flip]) -> set[UUID]:
    """The records among those turned that would fail."""
    return {flip.record.pk for flip in turned if flip.would_be == Record.Verdict.FAIL}


def _next_values(certificate: Certificate, corrected: Sequence[StandardValue]) -> list[StandardValue]:
    """All that the next version of the certificate would state: what is corrected, and the rest as it is."""
    next_version = {
        row.standard.pk: StandardValue.of(row) for row in certificate.values.select_related("standard") if row.standard
    }
    return list((next_version | {value.standard.pk: value for value in corrected}).values())


# The sets and answers of a recall, over `check` (checks that no longer count, or count again), `record` (whose standing
# changes) and `moved` (records that lose their ground or regain it). Each table is read once, however many records.
BY_PROJECT = over_tables(
    "SELECT {record.project}, count(*), sum({record.reading_count}) FROM set_record GROUP BY {record.project}",
    record=Record,
)
NEWEST_POINTS = "SELECT id, count(*) OVER (), 0 FROM set_point ORDER BY id DESC LIMIT 25"
# Who measured, while they take part in the project; the quality managers are told anyway.
MEASURED_BY = over_tables(
    """
    SELECT DISTINCT record.{record.taken_by}, 0, 0
    FROM set_record record JOIN {part} part
        ON part.{part.project} = record.{record.project} AND part.{part.person} = record.{record.taken_by}
        AND part.{part.ended_at} IS NULL
    """,
    record=Record,
    part=Membership,
)


def _newest_of(kind: str) -> str:
    """The newest of the records of one kind, and how many of it there are."""
    return over_tables(
        f"SELECT id, count(*) OVER (), 0 FROM set_record WHERE {OF_KIND.format(kind)} "  # noqa: S608 - a kind's name
        f"ORDER BY {{record.taken_at}} DESC, id DESC LIMIT {SHOWN}",
        record=Record,
    )


def _released_by(points: Ids) -> QuerySet[Any]:
    """Who released the points last."""
    released = Decision.objects.filter(outcome=Decision.Outcome.RELEASED).order_by()
    later = released.filter(point=OuterRef("point"), number__gt=OuterRef("number"))
    return narrowed(released, "point", points).exclude(Exists(later)).values("person").distinct()


def _touched(asked: Statement, checks: QuerySet[Any], turned: Sequence[Flip], by: Person) -> Touched:
    """Everything about the sets `check`, `changed` and, where it is another, `ground`, in one statement."""
    model, fields = RECORDS.model, RECORDS.fields
    asked.add_sql("record", looked_up("changed", model, fields))
    asked.add_sql("moved", looked_up("ground", model, fields) if "ground" in asked else "SELECT * FROM set_record")
    asked.add("point", [points_on(asked.ids_of("moved")).values("pk")])
    answers: list[tuple[str, QuerySet[Any] | str]] = [
        ("project", BY_PROJECT),
        ("verification", counted(checks.order_by("-taken_at", "-pk"))[:SHOWN]),
        *((kind, _newest_of(kind)) for kind in RELIED_ON),
        ("holdpoint", NEWEST_POINTS),
        ("person", MEASURED_BY),
        ("released_by", _as_answer(_released_by(asked.ids_of("point")))),
    ]
    report = kind_named("report")
    if report:
        moved = {kind: asked.ids_of("moved", OF_KIND.format(kind)) for kind in RELIED_ON}
        asked.add("report", reports_on({**moved, "verification": asked.ids_of("check")}))
        issues = narrowed(report.seen(by), "pk", asked.ids_of("report"))
        answers.append(("report", counted(issues.order_by(report.newest, "-pk"))[:SHOWN]))
        answers += [("person", _as_answer(people)) for people in report.told(asked.ids_of("report"))]
    found = asked.fetch(answers)
    wanted = [kind for name in NAMES if (kind := kind_named(name))]
    return Touched(layers_of(found, wanted, by), _by_project(found), turned, _people(found))


def _as_answer(people: QuerySet[Any]) -> QuerySet[Any]:
    (column,) = people.query.values_select
    answer: QuerySet[Any] = people.annotate(one=Value(0), two=Value(0))
    return answer.values_list(column, "one", "two")


def _by_project(found: Sequence[Found]) -> list[OfProject]:
    counts = {pk: (records, readings) for label, pk, records, readings in found if label == "project"}
    return [OfProject(project, *counts[project.pk]) for project in Project.objects.filter(pk__in=list(counts))]


def _people(found: Sequence[Found]) -> list[Person]:
    """Those named, and the quality managers wherever anything is touched.

    Who released a point and no longer takes part in any project concerned is told nothing, unless of the company.
    """
    named = {pk for label, pk, _, _ in found if label == "person"}
    released = {pk for label, pk, _, _ in found if label == "released_by"}
    if released:
        concerned = [pk for label, pk, _, _ in found if label == "project"]
        taking_part = Membership.objects.in_force().filter(person__in=released, project__in=concerned)
        company = Person.objects.filter(pk__in=released, organisation__kind=Organisation.Kind.COMPANY)
        named.update(taking_part.values_list("person", flat=True), company.values_list("pk", flat=True))
    if found:
        managers = Person.objects.filter(grants__role=Role.QUALITY_MANAGER, grants__ended_at=None)
        named.update(managers.values_list("pk", flat=True))
    people = Person.objects.filter(pk__in=named, is_active=True).select_related("organisation")
    return list(people.order_by("organisation__kind", "name"))


def assuming(certificate: Certificate, corrected: Iterable[StandardValue]) -> Assumed:
    """The values as the next version of the certificate would state them."""
    name, coverage = f"{certificate.number} v{certificate.version + 1}", float(certificate.coverage_factor)
    return {
        (certificate.pk, value.standard.pk): Correction(
            name, value.value_nm, value.expanded_uncertainty_nm, coverage, value.value, value.expanded_uncertainty
        )
        for value in corrected
    }


def standings_under(certificate: Certificate, checks: Sequence[UUID]) -> dict[UUID, str]:
    """Those on the checks, and those of records that rest on the certificate or one traceable to it; as stored."""
    papers = set(certificates_above(versions([certificate.pk])))
    under = [*certified.resting_on(papers), *profile_used.resting_on_certificates(papers)]
    rows = Standing.objects.filter(record__among=under)
    return standings_on(checks) | dict(rows.values_list("record", "state"))


def standings_on(checks: Sequence[UUID]) -> dict[UUID, str]:
    """By record that was measured between two of the checks, or beside one: its standing as stored."""
    rows = Standing.objects.filter(Q(opening__among=checks) | Q(closing__among=checks))
    return dict(rows.values_list("record", "state"))


def relying_on(certificate: Certificate) -> list[QuerySet[Any]]:
    """The checks that would have nothing to rely on without the certificate and those traceable to it, as sets."""
    papers = set(certificates_above(versions([certificate.pk])))
    uses = StandardUse.objects.filter(certified_value__certificate__in=papers).order_by()
    of_gauges = narrowed(Verification.objects.order_by(), "pk", list(_of_gauges(papers)))
    return [uses.values("point__verification").distinct(), of_gauges.values("pk")]


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


def passing(checks: Sequence[UUID]) -> list[UUID]:
    rows = Verification.objects.current().filter(pk__among=checks, verdict=Verification.Verdict.PASS)
    return list(rows.values_list("pk", flat=True))


def points_on(records: Ids) -> QuerySet[HoldPoint]:
    """Released points whose evidence is one of the records: the newest measurement, or what they require beside it."""
    released = HoldPoint.objects.filter(state=HoldPoint.State.RELEASED)
    # A coat for control only needs to have been measured; what was found carries nothing.
    decided = grounded(released).exclude(coat__decides=False)
    measured = narrowed(decided, "record_id", records).order_by().values("pk")
    beside = required().filter(point__state=HoldPoint.State.RELEASED).exclude(OF_MEASUREMENT)
    also = narrowed(beside, "stands", records)
    return released.filter(Q(pk__in=measured) | Q(pk__in=also.order_by().values("point"))).order_by()


def reports_on(below: dict[str, Ids]) -> list[QuerySet[Any]]:
    """Issued reports that rest on the things of these kinds; none while no room above holds reports."""
    return [link.resting_on(below[link.below]) for link in links() if link.above == "report" and link.below in below]
