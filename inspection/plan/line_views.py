"""Pages that change the lines of a draft, the legend and the working calendar."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.fieldwork.kinds import BY_NAME
from inspection.foundation.refusals import NotAllowed, Refused
from inspection.plan import calendar, forms, line_table, lines, queries
from inspection.plan.legend import Letter, legend_of, put_legend
from inspection.plan.models import PlanLine, PlanRevision
from inspection.plan.views import one_form, page, revision_of
from inspection.projects.forms import UploadTable, show_refusal
from inspection.projects.how_read import came_as, sent_or_asked, tell_before
from inspection.projects.models import Project
from inspection.projects.stored_tables import Sent


@page
def plan_line_new(request: SignedIn, pk: UUID) -> HttpResponse:
    revision = revision_of(request, pk)
    require(request.user, Role.QUALITY_MANAGER, to="write a plan")
    form = forms.Line(request.POST or None, known=lines.known_to(revision.plan.project), kinds=BY_NAME)

    def act(values: dict[str, Any]) -> None:
        sent = form.sent(values)
        if revision.lines.filter(number__iexact=sent.number).exists():
            raise Refused(f"There is already a line {sent.number} in this revision.", field="number")
        lines.put_lines(request.user, revision=revision, lines=[sent])

    if carried_out(form, act):
        messages.success(request, f"Line {form.cleaned_data['number']} is added.")
        return redirect("plan_revision", revision.pk)
    return one_form(request, revision, form, "Add a line", "Add the line")


def _line(request: SignedIn, pk: UUID) -> PlanLine:
    line = get_object_or_404(queries.lines_seen_by(request.user), pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="write a plan")
    return line


@page
def plan_line(request: SignedIn, pk: UUID) -> HttpResponse:
    line = _line(request, pk)
    project = line.revision.plan.project
    form = forms.Line(request.POST or None, known=lines.known_to(project), kinds=BY_NAME, line=line)
    if carried_out(form, lambda values: lines.change_line(request.user, line=line, sent=form.sent(values))):
        messages.success(request, f"Line {form.cleaned_data['number']} is changed.")
        return redirect("plan_revision", line.revision_id)
    return one_form(request, line.revision, form, f"Line {line.number}", "Change the line", line=line)


@page
def plan_line_out(request: SignedIn, pk: UUID) -> HttpResponse:
    """Asks once; a POST takes the line out of the draft."""
    line = _line(request, pk)
    form = forms.Nothing(request.POST if request.method == "POST" else None)
    revision, told = line.revision, str(line)
    if carried_out(form, lambda values: lines.take_out(request.user, line=line)):
        messages.success(request, f"Line {told} is taken out; the journal keeps what it said.")
        return redirect("plan_revision", revision.pk)
    return one_form(request, revision, form, f"Take line {line.number} out", "Take it out", lead=told)


@page
def plan_table(request: SignedIn, pk: UUID) -> HttpResponse:
    """Many lines from one table: shown row by row first, stored all or none."""
    revision = revision_of(request, pk)
    require(request.user, Role.QUALITY_MANAGER, to="write a plan")
    about = {"of": "lines of a plan", "project": revision.plan.project}
    sent = sent_or_asked(request, line_table.READ_AS, about)
    if isinstance(sent, HttpResponse):
        return sent
    form = UploadTable(*sent)
    table: line_table.Table | None = None
    shown: dict[str, Any] = {}
    if form.is_bound and form.is_valid():
        try:
            table = line_table.read(revision, form.content())
            came = Sent(request.user, line_table.READ_AS, table, came_as(request), revision.plan.project)
            shown = came.shown
            if "store" in request.POST and not table.faults:
                return _stored(request, revision, table, came)
        except NotAllowed:
            raise
        except Refused as refusal:
            if table is None or not table.rows:
                show_refusal(refusal, form)
            else:
                table.show_refusal(refusal)
    wrong = bool(form.errors) or (table is not None and bool(table.faults))
    shown |= {"revision": revision, "project": revision.plan.project, "table": table}
    if table is not None:
        # The rows go back as text, so that they can be put right and sent without choosing the file again.
        form, shown["rows"] = UploadTable(initial={"rows": table.text}), table.window(request.POST.get("look"))
    shown |= {
        "form": form, "forms": [form], "template": line_table.TEMPLATE, "kinds": BY_NAME,
        "activities": PlanLine.Activity.values, "scopes": PlanLine.Scope.values,
    }  # fmt: skip
    return render(request, "plan/table.html", shown, status=422 if wrong else 200)


def _stored(request: SignedIn, revision: PlanRevision, table: line_table.Table, sent: Sent) -> HttpResponse:
    stored = sent.stored(lambda: lines.put_lines(request.user, revision=revision, lines=table.sent()))
    tell_before(request, sent)
    told = [f"{len(rows)} {word}" for rows, word in ((stored.added, "added"), (stored.changed, "changed")) if len(rows)]
    messages.success(request, f"Lines: {', '.join(told)}." if told else "Nothing differs from what is stored.")
    return redirect("plan_revision", revision.pk)


def _to_set_up(request: SignedIn, pk: UUID, to: str) -> Project:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to=to)
    return project


@page
def plan_legend(request: SignedIn, pk: UUID) -> HttpResponse:
    return _legend(request, _to_set_up(request, pk, "change the legend"))


@page
def company_legend(request: SignedIn) -> HttpResponse:
    require(request.user, Role.QUALITY_MANAGER, to="change the legend")
    return _legend(request, None)


def _legend(request: SignedIn, project: Project | None) -> HttpResponse:
    rows = forms.letter_rows(legend_of(project), request.POST or None)
    main = forms.Nothing(request.POST or None)
    if request.method == "POST" and all([main.is_valid(), *(row.is_valid() for row in rows)]):
        typed = [row for row in rows if row.cleaned_data["letter"]]
        letters = [Letter(**{name: row.cleaned_data[name] for name in ("letter", "meaning", "word")}) for row in typed]
        try:
            put_legend(request.user, project=project, letters=letters)
        except NotAllowed:
            raise
        except Refused as refusal:
            show_refusal(refusal, main, typed)
        else:
            messages.success(request, "The legend is kept.")
            return redirect("plan", project.pk) if project else redirect("plan_templates")
    shown = {"project": project, "rows": rows, "form": main, "forms": [main, *rows]}
    wrong = any(each.errors for each in (main, *rows))
    return render(request, "plan/legend.html", shown | {"wrong": wrong}, status=422 if wrong else 200)


@page
def plan_calendar(request: SignedIn, pk: UUID) -> HttpResponse:
    project = _to_set_up(request, pk, "change the working calendar")
    form = forms.CalendarForm(request.POST or None, kept=calendar.as_journalled(project))
    if carried_out(form, lambda values: calendar.put_calendar(request.user, project=project, **form.as_sent(values))):
        messages.success(request, "The working calendar is kept.")
        return redirect("plan", project.pk)
    shown = {"project": project, "form": form, "heading": "Working calendar", "submit": "Keep it"}
    return render(request, "plan/calendar.html", shown, status=status_of(form))
