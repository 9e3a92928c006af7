"""What needs a decision of the quality manager: each kind one section, each row one line with its reason."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import islice
from typing import Any, cast
from uuid import UUID

from django.db.models import Count, Exists, F, Min, OuterRef, Prefetch, Q, QuerySet, Subquery
from django.urls import reverse

from accounts import admission
from accounts.models import Letter, Person
from accounts.queries import late_letters
from inspection.fieldwork.leaving import left_open
from inspection.fieldwork.models import Record, RecordQuerySet, Sheet, ThicknessRecord
from inspection.foundation.units import Unit, in_unit
from inspection.holdpoints.ground import with_since
from inspection.holdpoints.leaving import without_anybody_to_decide
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.outcomes import LEAVES
from inspection.instruments.leaving import held_by_nobody_here
from inspection.instruments.models import Gauge, InstrumentRules, ReferenceStandard
from inspection.nonconformance.ageing import overdue
from inspection.nonconformance.models import Disposition, Nonconformance
from inspection.nonconformance.queries import PLACE, awaiting_another, conceded_on, missing_of
from inspection.plan.awaiting import unapproved
from inspection.projects.models import Project
from inspection.standing.models import Standing
from reports.attention.models import Reminded
from reports.attention.running_out import Item, Told, days, running_out, told_before
from reports.daily.against import to_look_at
from reports.daily.models import DailyReport, ReportIssue
from reports.questions.models import ReadingQuestion
from reports.questions.queries import questions as asked_of_readings
from reports.questions.words import told
from reports.work.models import Job

MOST_ROWS = 25
SOON = timedelta(days=60)


@dataclass(frozen=True)
class Need:
    """One line: what, where, the state as a mark, why, and the page on which to decide."""

    what: str
    place: str
    state: str
    words: str
    reason: str
    url: str
    # When it arose, shown in `zone`; None where the reason says it.
    at: datetime | None = None
    project: Any = None


@dataclass(frozen=True)
class Section:
    key: str
    title: str
    total: int
    rows: tuple[Need, ...]
    more: str = ""


def decisions(person: Person, at: datetime) -> list[Section]:
    """All sections in order of urgency, empty ones included, in a number of queries that does not grow."""
    parts: tuple[Callable[[Person, datetime], Section], ...] = (
        doubtful_releases, in_question, failing, refused_points, nonconformances, drafted, unconfirmed, overdue_actions,
        plans_to_approve, doubtful_reports,
        awaiting_check, certificates, qualifications, arrivals, left_behind, questions, reports_to_issue, failed_jobs,
        unsent_letters,
    )  # fmt: skip
    return [part(person, at) for part in parts]


def _section(key: str, title: str, rows: QuerySet[Any], line: Callable[[Any], Need], more: str = "") -> Section:
    return Section(key, title, rows.count(), tuple(line(row) for row in rows[:MOST_ROWS]), more)


def _listed(key: str, title: str, lines: Iterable[Need], more: str = "") -> Section:
    lines = list(lines)
    return Section(key, title, len(lines), tuple(islice(lines, MOST_ROWS)), more)


# --- records and points -----------------------------------------------------------------------------------------------


def _last_of_place(person: Person) -> QuerySet[ThicknessRecord]:
    """The newest record of each area after each coat: a later one has settled what an earlier one said."""
    newest = cast("RecordQuerySet", ThicknessRecord.objects.visible_to(person)).latest_of_places()
    return newest.select_related("area", "coat", "project", "standing")


def in_question(person: Person, _: datetime) -> Section:
    rows = _last_of_place(person).filter(standing__state=Standing.State.IN_QUESTION)
    return _section("in-question", "Records in question", rows, _questioned, _to("thickness_list"))


def _questioned(row: ThicknessRecord) -> Need:
    return Need(
        f"{row.area.label} after {row.coat.name}", row.project.code, "in_question", "In question",
        row.standing.reasons[0] if row.standing.reasons else "", reverse("thickness", args=[row.pk]), row.taken_at,
        row.project,
    )  # fmt: skip


def failing(person: Person, _: datetime) -> Section:
    """Areas whose newest measurement fails and decides; not what was conceded, or an open nonconformance tells of."""
    rows = _last_of_place(person).filter(verdict=ThicknessRecord.Verdict.FAIL, coat__decides=True)
    of_place = Nonconformance.objects.filter(area=OuterRef("area"), coat=OuterRef("coat"), record__isnull=False)
    rows = rows.filter(~Exists(of_place.filter(state=Nonconformance.State.OPEN)))
    rows = rows.exclude(pk__in=conceded_on(rows.order_by().values("area")))
    return _section("failing", "Areas that fail", rows, _failed, _to("thickness_list"))


def _failed(row: ThicknessRecord) -> Need:
    return Need(
        f"{row.area.label} after {row.coat.name}", row.project.code, "fail", "Fail", _why_failed(row),
        reverse("thickness", args=[row.pk]), row.taken_at, row.project,
    )  # fmt: skip


def _why_failed(row: ThicknessRecord) -> str:
    """The mean of a failing measurement and the first check that it does not meet."""
    check = next((check for check in row.result.get("checks", ()) if check["passed"] is False), None)
    unit = Unit(row.project.unit)
    mean = "" if row.mean_nm is None else f"Mean {in_unit(row.mean_nm, unit)} {unit.label}."
    return f"{mean} Not met: {check['sentence']}".strip() if check else mean


def doubtful_releases(person: Person, _: datetime) -> Section:
    rows = HoldPoint.objects.visible_to(person).filter(state=HoldPoint.State.RELEASED, doubted_at__isnull=False)
    doubtful = _points(with_since(rows))
    return _section("doubtful-releases", "Released, but the evidence no longer holds", doubtful, _doubtful_point)


def refused_points(person: Person, _: datetime) -> Section:
    rows = HoldPoint.objects.visible_to(person).filter(state=HoldPoint.State.REFUSED)
    return _section("refused", "Refused hold points", _points(rows), _refused_point, _to("board"))


def _points(rows: QuerySet[Any]) -> QuerySet[Any]:
    # Whoever only came, or did not, has neither refused nor released.
    decided = Prefetch("decisions", Decision.objects.exclude(outcome__in=LEAVES).order_by("-number"))
    return rows.select_related("area", "coat", "project").prefetch_related(decided).order_by("project__code", "pk")


def _doubtful_point(row: Any) -> Need:
    last = next(iter(row.decisions.all()), None)
    since = "; a climate record that failed has arrived since" if row.climate_failed_since else ""
    since += "; paint under it is of a batch that was withdrawn since" if row.paint_withdrawn_since else ""
    since += "; what had to come before it is not met since" if row.chain_broken else ""
    reason = f"Released by {last.signed_as}{since}; look at its evidence again" if last else ""
    place = f"{row.project.code} {row.area.label}"
    url = reverse("point", args=[row.pk])
    return Need(row.title, place, "in_question", "In doubt", reason, url, row.doubted_at, row.project)


def _refused_point(row: HoldPoint) -> Need:
    last = next(iter(row.decisions.all()), None)
    reason = f"{last.signed_as}: {last.reason}" if last else ""
    place = f"{row.project.code} {row.area.label}"
    url = reverse("point", args=[row.pk])
    return Need(row.title, place, "refused", "Refused", reason, url, last.at if last else None, row.project)


def nonconformances(person: Person, _: datetime) -> Section:
    rows = Nonconformance.objects.visible_to(person).filter(state=Nonconformance.State.OPEN)
    rows = rows.select_related(*PLACE).order_by("raised_at")
    shown = list(rows[:MOST_ROWS])
    missing, failed = missing_of(shown), _failed_at(person, shown)

    def line(row: Nonconformance) -> Need:
        figures = failed.get((row.area_id, row.coat_id), "") if row.record_id and row.area_id else ""
        return _open_one(row, [figures, *missing.get(row.pk, [])])

    return _section("nonconformances", "Open nonconformances", rows, line, _to("nonconformance_list"))


def _failed_at(person: Person, rows: Iterable[Nonconformance]) -> dict[tuple[UUID, UUID | None], str]:
    """By area and coat of these, the figures of the newest measurement where that fails."""
    rows = [row for row in rows if row.record_id]
    places = {"area__in": {row.area_id for row in rows}, "coat__in": {row.coat_id for row in rows}}
    newest = _last_of_place(person).filter(verdict=ThicknessRecord.Verdict.FAIL, **places)
    return {(row.area_id, row.coat_id): _why_failed(row) for row in newest}


def _open_one(row: Nonconformance, told: list[str]) -> Need:
    reason = " ".join(filter(None, told))
    where = f"{row.area.label}, {row.coat.name}" if row.area and row.coat else row.place
    place = f"{row.project.code} {where}"
    url = reverse("nonconformance", args=[row.pk])
    return Need(str(row), place, "open", "Open", reason, url, row.raised_at, row.project)


def drafted(person: Person, _: datetime) -> Section:
    """What was drafted by the platform, a client or a contractor, and holds nothing back until it is issued."""
    rows = Nonconformance.objects.visible_to(person).filter(state=Nonconformance.State.DRAFT)
    rows = rows.select_related(*PLACE).order_by("raised_at")

    def line(row: Nonconformance) -> Need:
        url = reverse("nonconformance", args=[row.pk])
        reason = "It holds nothing back until somebody signs and issues it, or says why not"
        return Need(
            str(row), f"{row.project.code} {row.place}", "draft", "Draft", reason, url, row.raised_at, row.project
        )

    return _section("drafted", "Nonconformances to issue", rows, line, _to("nonconformance_list"))


def unconfirmed(person: Person, _: datetime) -> Section:
    """Closed by a measurement of who entered the rework: another person is to look at it."""
    rows = awaiting_another(Nonconformance.objects.visible_to(person)).order_by("closed_at")
    rows = rows.select_related(*PLACE, "closing_record__taken_by")

    def line(row: Nonconformance) -> Need:
        measured = row.closing_record
        reason = f"{measured.by_name} entered the rework and measured; another person confirms it" if measured else ""
        url = reverse("nonconformance", args=[row.pk])
        return Need(str(row), f"{row.project.code} {row.place}", "waiting", "To confirm", reason, url, row.closed_at,
                    row.project)  # fmt: skip

    return _section("unconfirmed", "Closings to confirm", rows, line)


def overdue_actions(person: Person, at: datetime) -> Section:
    """Corrective actions past their day of which nobody said that they are done, the longest overdue first."""
    rows = overdue(person, at)

    def line(row: Disposition) -> Need:
        raised = row.nonconformance
        place = f"{raised.project.code} NC-{raised.number:03d}, {raised.place}"
        reason = f"{row.done_by} was to have it done by {row.due}"
        return Need(row.text, place, "open", "Overdue", reason, reverse("nonconformance", args=[raised.pk]))

    return _section("overdue-actions", "Corrective actions overdue", rows, line)


def plans_to_approve(person: Person, _: datetime) -> Section:
    """Drafts of plans that wait for the approval of parties that were asked."""
    lines = [
        Need(
            str(each.revision), each.revision.plan.project.code if each.revision.plan.project else "", "waiting",
            "To approve", f"Waits for {', '.join(map(str, each.parties))}",
            reverse("plan_revision", args=[each.revision.pk]),
        )
        for each in unapproved(person)
    ]  # fmt: skip
    return _listed("plans-to-approve", "Plans that wait for approval", lines)


# --- instruments and people -------------------------------------------------------------------------------------------


def awaiting_check(person: Person, at: datetime) -> Section:
    """Gauges whose records wait for the check after work, the one due first on top."""
    waiting = Standing.objects.filter(state=Standing.State.PROVISIONAL)
    waiting = waiting.filter(record__in=Record.objects.current().visible_to(person))
    rows = (
        waiting.values(gauge=F("record__gauge"), identity=F("record__gauge__identity"), project=F("record__project"))
        .annotate(records=Count("pk"), due=Min("due_at"))
        .order_by("due")
    )
    projects = Project.objects.in_bulk(list(rows.values_list("project", flat=True)[:MOST_ROWS]))
    return _section(
        "checks", "Gauges without a closing check", rows, lambda row: _unchecked(row, projects[row["project"]], at)
    )


def _unchecked(row: dict[str, Any], project: Project, at: datetime) -> Need:
    many = f"{row['records']} record{'s' if row['records'] > 1 else ''} wait{'' if row['records'] > 1 else 's'} for it"
    words = "Overdue" if row["due"] <= at else "Due by"
    state = "in_question" if row["due"] <= at else "provisional"
    url = reverse("gauge", args=[row["gauge"]])
    return Need(row["identity"], project.code, state, words, many, url, row["due"], project)


def certificates(_: Person, at: datetime) -> Section:
    """Certificates of equipment in service, and equipment in service without one, the longest overdue on top."""
    lines = _papers(at, Reminded.Kind.CERTIFICATE, Reminded.Kind.EQUIPMENT)
    return _listed("certificates", "Certificates running out", lines, _to("equipment"))


def qualifications(_: Person, at: datetime) -> Section:
    return _listed("qualifications", "Qualifications running out", _papers(at, Reminded.Kind.QUALIFICATION))


def _papers(at: datetime, *kinds: Reminded.Kind) -> list[Need]:
    day, rules = at.date(), InstrumentRules.now()
    soon = [item for item in running_out(day, *kinds) if item.is_overdue(day) or item.due <= day + SOON]
    overdue = [item for item in soon if item.is_overdue(day)]
    # Up to this moment, so that what the worker told this morning counts.
    told = told_before(day + timedelta(days=1), overdue)
    return [_paper(item, day, _escalation(item, day, rules, told[item.key])) for item in soon]


def _paper(item: Item, day: date, escalation: str) -> Need:
    state, words = "expiring", "Expiring"
    if item.is_overdue(day):
        state, words = "expired", f"{days(item.days_over(day))} overdue"
    reason = item.when(day)
    reason = f"{reason[0].upper()}{reason[1:]}{escalation}"
    what, place = item.name, ", ".join(map(str, item.equipment))
    if item.person:
        what = f"{item.name}, {item.person.name}"
    if item.kind == Reminded.Kind.EQUIPMENT:
        words, place = "No certificate", str(item.equipment[0].holder or "in store")
    return Need(what, place, state, words, reason, item.path)


def _escalation(item: Item, day: date, rules: InstrumentRules, told: Told) -> str:
    """Whether the administrators have been told, or when they will be; nothing of what is not overdue."""
    if not item.is_overdue(day):
        return ""
    if told.escalated:
        times = f" {len(told.escalated)} times, last" if len(told.escalated) > 1 else ""
        return f"; escalated{times} on {max(told.escalated):%Y-%m-%d}"
    due = max(day, item.due + timedelta(days=rules.escalate_after_days))
    return f"; to be escalated on {due:%Y-%m-%d}"


def arrivals(person: Person, _: datetime) -> Section:
    """People of other organisations who wait to be confirmed, where it is this person who may do it."""
    waiting = [each for each in admission.answerable(person) if admission.may_confirm(person, each)]
    why, url = "They see nothing until then; ", _to("people")
    lines = [
        Need(each.name, str(each.organisation), "waiting", "To confirm", f"{why}{each.admission}", url)
        for each in waiting
    ]
    return _listed("arrivals", "People to confirm", lines, _to("people"))


def left_behind(person: Person, _: datetime) -> Section:
    """What people who have left, or lost the role for it, still hold; and points that nobody is there to decide on."""
    lines = [
        Need(
            str(thing), f"held by {thing.holder}", "open", "Left behind", "Its holder has left or lost the role; "
            "hand it over", reverse(page, args=[thing.pk]),
        )
        for page, model in (("gauge", Gauge), ("standard", ReferenceStandard))
        for thing in held_by_nobody_here(model._default_manager.visible_to(person)).select_related("holder")
    ]  # fmt: skip
    sheets = left_open(Sheet.objects.visible_to(person)).select_related("person", "project", "area", "coat")
    lines += [
        Need(
            f"{sheet.area} after {sheet.coat.name}", sheet.project.code, "open", "Open sheet",
            f"{sheet.person} has left or lost the role; its readings are kept", reverse("sheet", args=[sheet.pk]),
            sheet.begun_at, sheet.project,
        )
        for sheet in sheets.order_by("begun_at")
    ]  # fmt: skip
    lines += [
        Need(
            f"Hold points of {project.code}", project.code, "waiting", "Nobody to decide",
            f"Points wait for {' and '.join(parties)}, of which nobody takes part",
            f"{reverse('board')}?project={project.pk}",
        )
        for project, parties in without_anybody_to_decide(Project.objects.visible_to(person))
    ]  # fmt: skip
    return _listed("left-behind", "Left behind by people who have gone", lines)


def questions(person: Person, _: datetime) -> Section:
    """Questions about readings that nobody has answered yet; each is the quality manager's alone."""
    rows = asked_of_readings(person, state=ReadingQuestion.State.OPEN)
    return _section("questions", "Questions about readings", rows, _question, _to("question_list"))


def _question(row: ReadingQuestion) -> Need:
    place = f"{row.project.code} {row.record.area.label}"
    url = reverse("question", args=[row.pk])
    return Need(row.get_kind_display(), place, "open", "A question", told(row)[0], url, row.asked_at, row.project)


# --- reports and jobs -------------------------------------------------------------------------------------------------


def reports_to_issue(person: Person, _: datetime) -> Section:
    """Drafts never issued, and drafts whose facts differ from the last revision's."""
    last = ReportIssue.objects.filter(report=OuterRef("pk")).order_by("-revision")
    rows = (
        DailyReport.objects.visible_to(person)
        .exclude(draft=None)
        .annotate(issued=Subquery(last.values("facts_digest")[:1]), revision=Subquery(last.values("revision")[:1]))
        .filter(Q(issued=None) | ~Q(issued=F("facts_digest")))
        .select_related("project")
        .order_by("day", "project__code", "order")
    )
    return _section("reports", "Reports ready to issue", rows, _ready, _to("report_list"))


def _ready(row: Any) -> Need:
    reason = f"The facts have changed since revision {row.revision}" if row.revision else "Never issued"
    url = reverse("report", args=[row.pk])
    return Need(f"Report of {row.of}", row.project.code, "draft", "Draft", reason, url, row.built_at, row.project)


def doubtful_reports(person: Person, _: datetime) -> Section:
    """Reports whose last revision tells what no longer holds, until somebody sets that aside or issues anew."""
    return _section("doubtful-reports", "Issued reports to look at again", to_look_at(person), _doubtful_report)


def _doubtful_report(row: Any) -> Need:
    told = "record that stands" if row.things == 1 else "records that stand"
    reason = f"Revision {row.revision} tells {row.things} {told} otherwise now"
    report = row.report
    url = reverse("report", args=[report.pk])
    return Need(f"Report of {report.of}", report.project.code, "in_question", "Look again", reason, url)


def failed_jobs(_: Person, __: datetime) -> Section:
    """Failed work that has not been done since."""
    since = Job.objects.filter(kind=OuterRef("kind"), about=OuterRef("about"), queued_at__gt=OuterRef("queued_at"))
    rows = Job.objects.filter(state=Job.State.FAILED).exclude(Exists(since)).order_by("-finished_at")
    reports = DailyReport.objects.select_related("project").in_bulk([row.about for row in rows[:MOST_ROWS]])
    return _section("jobs", "Work that failed", rows, lambda row: _failed_job(row, reports[UUID(row.about)]))


def _failed_job(row: Job, report: DailyReport) -> Need:
    url, what = reverse("report", args=[report.pk]), f"Report of {report.of}"
    return Need(
        what, report.project.code, "failed", "Failed", row.last_error[:200], url, row.finished_at, report.project
    )


def unsent_letters(person: Person, at: datetime) -> Section:
    return _section("letters", "Letters not sent", late_letters(person, at), _unsent, _to("letters"))


def _unsent(row: Letter) -> Need:
    reason = row.last_error[:200] or "No worker has taken it up yet"
    return Need(row.subject, row.recipient, "failed", "Not sent", reason, _to("letters"), row.written_at)


def _to(name: str) -> str:
    return reverse(name)
