"""Pages of a specification: its revisions with their papers, deviations with their answers, and what is taken back."""

from __future__ import annotations

from io import BytesIO
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.db.models import Prefetch
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from accounts import vault
from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.foundation.text import on_one_line
from inspection.projects import specification_forms as forms
from inspection.projects import specifications
from inspection.projects.forms import Because
from inspection.projects.models import Deviation, DeviationAnswer, Project, Specification, SpecificationRevision

page = require_http_methods(["GET", "HEAD", "POST"])


def _specification(request: SignedIn, pk: UUID, to: str = "") -> Specification:
    rows = Specification.objects.visible_to(request.user).select_related("project")
    found: Specification = get_object_or_404(rows, pk=pk)
    if to:
        require(request.user, Role.QUALITY_MANAGER, to=to)
    return found


@require_safe
def specification(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _specification(request, pk)
    answers = DeviationAnswer.objects.select_related("withdrawn_by", "entered_by").order_by("entered_at")
    goes_on = not found.project.closed_at
    context = {
        "specification": found, "project": found.project,
        "revisions": found.revisions.select_related("file", "added_by", "withdrawn_by").prefetch_related("systems"),
        "deviations": found.deviations.select_related("withdrawn_by", "entered_by").prefetch_related(
            Prefetch("answers", answers)
        ),
        "may_set_up": goes_on and request.user.has_role(Role.QUALITY_MANAGER),
        "may_answer": goes_on and (request.user.has_role(Role.QUALITY_MANAGER) or request.user.has_role(Role.CLIENT)),
    }  # fmt: skip
    return render(request, "projects/specification.html", context)


def _form(request: SignedIn, project: Project, form: Any, heading: str, submit: str, **more: Any) -> HttpResponse:
    shown = {"project": project, "form": form, "heading": heading, "submit": submit, **more}
    return render(request, "projects/add.html", shown, status=status_of(form))


@page
def specification_new(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="add a specification")
    form, made = forms.AddSpecification(request.POST or None), list[Specification]()

    def act(values: dict[str, Any]) -> None:
        made.append(specifications.add_specification(request.user, project=project, **values))

    if carried_out(form, act):
        messages.success(request, f"{made[0]} is added. Next, its revisions.")
        return redirect("specification", made[0].pk)
    return _form(request, project, form, "Add a specification", "Add it")


@page
def specification_correct(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _specification(request, pk, "correct a specification")
    form = forms.CorrectSpecification(request.POST or None, specification=found)

    def act(values: dict[str, Any]) -> None:
        specifications.correct_specification(request.user, specification=found, **values)

    if carried_out(form, act):
        messages.success(request, "The specification is corrected; the journal keeps what stood before.")
        return redirect("specification", found.pk)
    return _form(request, found.project, form, f"Correct {found.number}", "Correct it")


@page
def specification_remove(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _specification(request, pk, "remove a specification")
    form = Because(request.POST or None)

    def act(values: dict[str, Any]) -> None:
        specifications.remove_specification(request.user, specification=found, **values)

    if carried_out(form, act):
        messages.success(request, f"{found.number} is removed; the journal keeps why.")
        return redirect("project", found.project_id)
    return _form(request, found.project, form, f"Remove {found.number}", "Remove it")


@page
def specification_revise(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _specification(request, pk, "add a revision of a specification")
    form = forms.AddRevision(request.POST or None, request.FILES or None)

    def act(values: dict[str, Any]) -> None:
        specifications.add_revision(request.user, specification=found, **values)

    if carried_out(form, act):
        told = "Where it changes a coating system, revise the system now: its page says from which day."
        messages.success(request, f"Revision {form.cleaned_data['revision']} is recorded. {told}")
        return redirect("specification", found.pk)
    return _form(request, found.project, form, f"Add a revision of {found.number}", "Record the revision")


@require_safe
def specification_file(request: SignedIn, pk: UUID) -> FileResponse:
    """The paper of a revision, always as a download of the type its first bytes said it is."""
    rows = SpecificationRevision.objects.visible_to(request.user).select_related("file")
    found = get_object_or_404(rows, pk=pk)
    if found.file is None:
        raise Http404
    answer = FileResponse(
        BytesIO(vault.content_of(found.file)), as_attachment=True, filename=on_one_line(found.file_name),
        content_type=found.file.media_type,
    )  # fmt: skip
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


@page
def deviation_ask(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _specification(request, pk, "ask for a deviation")
    form = forms.AskDeviation(request.POST or None)

    def act(values: dict[str, Any]) -> None:
        specifications.ask_deviation(request.user, specification=found, **values)

    if carried_out(form, act):
        messages.success(request, "The request is recorded.")
        return redirect("specification", found.pk)
    return _form(request, found.project, form, f"Ask for a deviation from {found.number}", "Record the request")


@page
def deviation_answer(request: SignedIn, pk: UUID) -> HttpResponse:
    rows = Deviation.objects.visible_to(request.user).select_related("specification__project")
    found = get_object_or_404(rows, pk=pk)
    require(request.user, Role.QUALITY_MANAGER, Role.CLIENT, to="answer a deviation")
    form = forms.AnswerDeviation(
        request.POST or None, initial={"answered_by": f"{request.user.name}, {request.user.organisation.name}"}
    )

    def act(values: dict[str, Any]) -> None:
        specifications.answer_deviation(request.user, deviation=found, **values)

    if carried_out(form, act):
        messages.success(request, "The answer is recorded.")
        return redirect("specification", found.specification_id)
    return _form(
        request, found.specification.project, form, f"Answer {found}", "Record the answer", question=found.asked
    )


WITHDRAWABLE: dict[str, Any] = {
    "revisions": (SpecificationRevision, "specification__project"),
    "deviations": (Deviation, "specification__project"),
    "answers": (DeviationAnswer, "deviation__specification__project"),
}


@page
def specification_withdraw(request: SignedIn, pk: UUID, what: str) -> HttpResponse:
    """Take back a revision, a request or an answer that was entered by mistake."""
    model, path = WITHDRAWABLE[what]
    found: Any = get_object_or_404(model.objects.visible_to(request.user).select_related(path), pk=pk)
    of = found.deviation.specification if what == "answers" else found.specification
    if not (what == "answers" and found.entered_by_id == request.user.pk):
        require(request.user, Role.QUALITY_MANAGER, to="take back what was recorded of a specification")
    form = Because(request.POST or None)
    if carried_out(form, lambda values: specifications.withdraw(request.user, row=found, **values)):
        messages.success(request, f"{found} is taken back; it stays readable, with the reason.")
        return redirect("specification", of.pk)
    return _form(request, of.project, form, f"Take back: {found}", "Take it back")
