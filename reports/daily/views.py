"""Pages of daily reports."""

from __future__ import annotations

import base64
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts import vault
from accounts.forms import carried_out, sent, status_of
from accounts.middleware import SignedIn
from accounts.models import Role, StoredFile
from accounts.rights import require
from accounts.stepping import step_up
from inspection.projects.models import Project
from reports.daily import actions, answering, forms, queries, reviewing, setting_aside
from reports.daily.against import doubts_of
from reports.daily.answering import that_stand
from reports.daily.models import ClientWord, DailyReport, ReportIssue
from reports.daily.reviewing import REVIEWERS, standing, writers_of
from reports.papers.actions import SETTERS

page = require_http_methods(["GET", "HEAD", "POST"])
REPORTS_A_PAGE = 40


# --- the list ---------------------------------------------------------------------------------------------------------
@page
def report_list(request: SignedIn) -> HttpResponse:
    """Reports in sight; a POST has the draft of a project's day built."""
    form = None
    if request.user.has_role(Role.INSPECTOR, Role.QUALITY_MANAGER):
        asked = {"project": request.GET.get("project", "")}
        form = forms.BuildReport(sent(request), initial=asked, person=request.user)
    if request.method == "POST":
        require(request.user, Role.INSPECTOR, Role.QUALITY_MANAGER, to="have a daily report built")
        if form and carried_out(form, lambda values: actions.queue_day(request.user, **values)):
            asked_for = {"project": form.cleaned_data["project"], "day": form.cleaned_data["day"]}
            built = DailyReport.objects.that_stand().filter(**asked_for).order_by("order")
            many = f"the {len(built)} drafts of the day" if len(built) > 1 else "the draft"
            messages.success(request, f"A worker builds {many} now; look again in a moment.")
            return redirect("report", built[0].pk)
    rows, wanted = queries.reports_seen_by(request.user), request.GET.get("project", "")
    projects = Project.objects.visible_to(request.user)
    if wanted:
        rows = rows.filter(project__in=[one.pk for one in projects if str(one.pk) == wanted])
    shown = Paginator(rows, REPORTS_A_PAGE).get_page(request.GET.get("page"))
    jobs = queries.jobs_of(shown)
    doubts = doubts_of([issue for report in shown for issue in report.issues.all()])
    table = [_row(report, jobs.get(report.pk), doubts) for report in shown]
    return render(
        request,
        "reports/report_list.html",
        {
            "page": shown,
            "rows": table,
            "form": form,
            "projects": projects,
            "project": wanted,
            "may_set_head": request.user.has_role(*SETTERS),
        },
        status=status_of(form) if form else 200,
    )


def _row(report: DailyReport, job: Any, doubts: dict[UUID, list[str]]) -> dict[str, Any]:
    issues = list(report.issues.all())
    last = issues[-1] if issues else None
    return {
        "stage": queries.stage_of(report),
        "report": report, "job": job, "last": last, "doubts": len(doubts.get(last.pk, ())) if last else 0,
        "changed": bool(last and report.facts_digest and report.facts_digest != last.facts_digest),
    }  # fmt: skip


# --- one report -------------------------------------------------------------------------------------------------------


def _report(request: SignedIn, pk: UUID) -> DailyReport:
    return get_object_or_404(queries.reports_seen_by(request.user), pk=pk)


def _last_revision(report: DailyReport) -> int | None:
    return max((issue.revision for issue in report.issues.all()), default=None)


def _show(request: SignedIn, report: DailyReport, form: forms.IssueReport | None = None, **more: Any) -> HttpResponse:
    """The report with its forms; `more` are those that were sent and are not right, by their names in the page."""
    issues = list(report.issues.all())
    doubts = doubts_of(issues)
    row = _row(report, queries.jobs_of([report]).get(report.pk), doubts)
    may_issue = request.user.has_role(Role.QUALITY_MANAGER) and report.draft and (row["changed"] or not issues)
    if may_issue and form is None:
        alone = _is_alone(request, report)
        form = forms.IssueReport(last=_last_revision(report), alone=alone, initial={"seen": report.facts_digest})
    shown = {
        **row,
        "revisions": [(issue, doubts[issue.pk], reviewing.review_of(issue)) for issue in reversed(issues)],
        "is_company": request.user.is_company,
        "papers": queries.papers_of_day(request.user, report),
        "may_build": request.user.has_role(Role.INSPECTOR, Role.QUALITY_MANAGER),
        "form": form,
        **_aside(request, row["last"], doubts, more.get("aside")),
        **_review(request, report, row["changed"] or not issues, more),
        **_words(request, issues, more),
    }
    wrong = next((each for each in (form, *more.values()) if each and each.errors), None)
    return render(request, "reports/report.html", shown, status=status_of(wrong) if wrong else 200)


def _is_alone(request: SignedIn, report: DailyReport) -> bool:
    """Whether the draft wants a review that nobody but its writers, of whom this person is one, could give."""
    if standing(report.reviews.all(), report.facts_digest):
        return False
    writers = writers_of(report)
    return request.user.pk in writers and not reviewing.who_else_may_review(report, writers)


def _review(request: SignedIn, report: DailyReport, to_issue: bool, sent: dict[str, Any]) -> dict[str, Any]:
    """What was seen of the draft, for the company; and the ways to review it or to take that back."""
    if not request.user.is_company:
        return {}
    stands = standing(report.reviews.all(), report.facts_digest) if report.draft_id and to_issue else None
    found: dict[str, Any] = {"review": stands}
    if not (report.draft_id and to_issue) or not request.user.has_role(*REVIEWERS):
        return found
    if stands is None:
        writes = request.user.pk in writers_of(report)
        seen = forms.ReviewReport(initial={"seen": report.facts_digest})
        return {**found, "wrote": writes, "to_review": None if writes else sent.get("to_review") or seen}
    may = stands.by_id == request.user.pk or request.user.has_role(Role.QUALITY_MANAGER)
    return {**found, "unreview": (sent.get("unreview") or forms.WhyBack()) if may else None}


def _words(request: SignedIn, issues: list[ReportIssue], sent: dict[str, Any]) -> dict[str, Any]:
    """What the client said of the revisions, newest first; and for the client's people the ways to say something."""
    said = [(issue, issue.words.all(), {word.pk for word in that_stand(issue)}) for issue in reversed(issues)]
    found: dict[str, Any] = {"said": [row for row in said if row[1]], "me": request.user}
    if not issues or not request.user.has_role(Role.CLIENT):
        return found
    signed = any(
        word.person_id == request.user.pk and word.what == ClientWord.What.SIGNED for word in that_stand(issues[-1])
    )
    found["comment"] = sent.get("comment") or forms.CommentReport()
    return {**found, "sign": None if signed else sent.get("sign") or forms.SignReport()}


def _aside(
    request: SignedIn, last: ReportIssue | None, doubts: dict[UUID, list[str]], form: forms.SetAside | None
) -> dict[str, Any]:
    """What was set aside of the last revision, for the company; and for a quality manager the way to do or undo it."""
    if last is None or not request.user.is_company:
        return {}
    row = next(iter(reversed(last.set_asides.all())), None)
    found = {"set_aside": row if row and row.covers_until else None}
    if request.user.has_role(Role.QUALITY_MANAGER) and (doubts[last.pk] or found["set_aside"]):
        seen = setting_aside.seen_of(doubts[last.pk])
        return {**found, "aside": form or forms.SetAside(initial={"seen": seen}), "may_take_back": found["set_aside"]}
    return found


@require_safe
def report(request: SignedIn, pk: UUID) -> HttpResponse:
    return _show(request, _report(request, pk))


@require_POST
def report_build(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _report(request, pk)
    actions.queue_report(request.user, project=found.project, day=found.day, part=found.part)
    messages.success(request, "A worker builds the draft now; look again in a moment.")
    return redirect("report", found.pk)


@require_POST
@step_up
def report_issue(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _report(request, pk)
    require(request.user, Role.QUALITY_MANAGER, to="issue a daily report")
    form = forms.IssueReport(request.POST, last=_last_revision(found), alone=_is_alone(request, found))
    if carried_out(form, lambda values: actions.issue_report(request.user, report=found, **values)):
        messages.success(request, "Issued. The client’s people are sent a link.")
        return redirect("report", found.pk)
    return _show(request, found, form)


@require_POST
def report_review(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _report(request, pk)
    require(request.user, *REVIEWERS, to="review a daily report")
    form = forms.ReviewReport(request.POST)
    if carried_out(form, lambda values: reviewing.review(request.user, report=found, **values)):
        messages.success(request, "Reviewed. A quality manager can issue it now.")
        return redirect("report", found.pk)
    return _show(request, found, to_review=form)


@require_POST
def report_unreview(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _report(request, pk)
    require(request.user, *REVIEWERS, to="take a review back")
    form = forms.WhyBack(request.POST)
    if carried_out(form, lambda values: reviewing.take_review_back(request.user, report=found, **values)):
        messages.success(request, "The review is taken back; the draft wants another look.")
        return redirect("report", found.pk)
    return _show(request, found, unreview=form)


def _newest(request: SignedIn, report: DailyReport, to: str) -> ReportIssue:
    require(request.user, Role.CLIENT, to=to)
    issue = next((each for each in report.issues.all() if each.revision == _last_revision(report)), None)
    if issue is None:
        raise Http404
    return issue


@require_POST
def report_comment(request: SignedIn, pk: UUID) -> HttpResponse:
    """A client's comment on the newest revision."""
    found = _report(request, pk)
    issue, form = _newest(request, found, "comment on a daily report"), forms.CommentReport(request.POST)
    if carried_out(form, lambda values: answering.comment(request.user, issue=issue, **values)):
        messages.success(request, "Kept, and told to whoever issued it.")
        return redirect("report", found.pk)
    return _show(request, found, comment=form)


@require_POST
@step_up
def report_sign(request: SignedIn, pk: UUID) -> HttpResponse:
    """A client's signature on the newest revision."""
    found = _report(request, pk)
    issue, form = _newest(request, found, "sign a daily report"), forms.SignReport(request.POST)
    if carried_out(form, lambda values: answering.sign(request.user, issue=issue, **values)):
        messages.success(request, f"Revision {issue.revision} is signed.")
        return redirect("report", found.pk)
    return _show(request, found, sign=form)


@page
def report_word_back(request: SignedIn, pk: UUID) -> HttpResponse:
    """A client takes back what they said of a revision."""
    rows: Any = ClientWord.objects.visible_to(request.user)
    word = get_object_or_404(rows.select_related("issue__report__project"), pk=pk)
    require(request.user, Role.CLIENT, to="take back what was said of a daily report")
    form = forms.WhyBack(sent(request))
    if carried_out(form, lambda values: answering.take_back(request.user, word=word, **values)):
        messages.success(request, "It is taken back; it stays readable, with why.")
        return redirect("report", word.issue.report_id)
    return render(request, "reports/word_back.html", {"word": word, "form": form}, status=status_of(form))


@require_POST
def report_set_aside(request: SignedIn, pk: UUID) -> HttpResponse:
    """What has come up against the last revision is set aside or, asked so, looked at again."""
    found = _report(request, pk)
    require(request.user, Role.QUALITY_MANAGER, to="set aside what has come up against a report")
    issue = next((each for each in found.issues.all() if each.revision == _last_revision(found)), None)
    if issue is None:
        raise Http404
    form = forms.SetAside(request.POST)
    back = "back" in request.POST

    def carry_out(values: dict[str, Any]) -> Any:
        if back:
            return setting_aside.take_back(request.user, issue=issue, reason=values["reason"])
        return setting_aside.set_aside(request.user, issue=issue, **values)

    if carried_out(form, carry_out):
        messages.success(
            request, "It is among the decisions again." if back else "Set aside; what comes up later asks again."
        )
        return redirect("report", found.pk)
    return _show(request, found, aside=form)


# --- files ------------------------------------------------------------------------------------------------------------


def pdf(file: StoredFile, name: str) -> HttpResponse:
    """A stored report as an answer: shown in place, under the name, with its digest (RFC 9530)."""
    answer = HttpResponse(vault.content_of(file), content_type="application/pdf")
    answer["Content-Disposition"] = content_disposition_header(as_attachment=False, filename=name) or "inline"
    answer["Repr-Digest"] = f"sha-256=:{base64.b64encode(bytes.fromhex(file.digest)).decode()}:"
    answer["ETag"] = f'"{file.digest}"'
    return answer


@require_safe
def report_draft(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _report(request, pk)
    if found.draft is None or not request.user.is_company:
        raise Http404
    return pdf(found.draft, found.file_name("draft"))


@require_safe
def report_file(request: SignedIn, pk: UUID, revision: int) -> HttpResponse:
    issue = get_object_or_404(queries.issues_seen_by(request.user), report=pk, revision=revision)
    return pdf(issue.file, issue.file_name)


@page
def report_check(request: SignedIn) -> HttpResponse:
    """Whether a PDF is an issued report, unchanged. A POST changes nothing; a file does not fit into an address."""
    form = forms.CheckReport(request.POST, request.FILES) if request.method == "POST" else forms.CheckReport()
    shown: dict[str, Any] = {"form": form}
    if form.is_bound and form.is_valid():
        issue = queries.issue_with_digest(request.user, form.wanted)
        shown |= {"asked": form.wanted, "issue": issue}
        if issue:
            shown |= {
                "same_file": issue.file_id == form.wanted,
                "newer": ReportIssue.objects.filter(report=issue.report_id, revision__gt=issue.revision).last(),
                "doubts": doubts_of([issue])[issue.pk],
            }
    return render(request, "reports/report_check.html", shown, status=status_of(form))
