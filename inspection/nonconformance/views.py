"""Nonconformances: the list, one of them, raising, reworking, conceding, closing, taking an entry back."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.forms import answered, carried_out, sent, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.foundation.ids import new_id
from inspection.foundation.narrowing import keeping, narrowed
from inspection.foundation.refusals import Fault, NotAllowed, Refused
from inspection.nonconformance import actions, ageing, extent, forms, queries, sayings
from inspection.nonconformance.models import Disposition, Nonconformance
from inspection.nonconformance.repaired import repaired_parts
from inspection.projects.models import Project

page = require_http_methods(["GET", "HEAD", "POST"])
A_PAGE = 50
WORKERS = (Role.INSPECTOR, Role.QUALITY_MANAGER)
# What stands at the head of the page, in the order in which it comes about.
TOLD = tuple(Disposition.Kind(kind) for kind in ("grade", "against", "contained", "cause", "decision", "effect"))


@require_safe
def nonconformance_list(request: SignedIn) -> HttpResponse:
    narrow = narrowed(request, "state")
    state = narrow["state"] if narrow.get("state") in Nonconformance.State.values else ""
    project = UUID(narrow["project"]) if "project" in narrow else None
    rows = Paginator(queries.with_grade(queries.nonconformances(request.user, project=project, state=state)), A_PAGE)
    projects = Project.objects.visible_to(request.user)
    return render(
        request,
        "nonconformance/nonconformance_list.html",
        {
            "page": rows.get_page(request.GET.get("page")),
            "projects": projects,
            "project": narrow.get("project", ""),
            "state": state,
            "states": Nonconformance.State.choices,
            "query": keeping(**narrow),
            "may_raise": request.user.has_role(*actions.RAISERS),
        },
    )


def _nonconformance(request: SignedIn, pk: UUID) -> Nonconformance:
    rows = queries.nonconformances(request.user).select_related(*queries.JOINED, "record", "closing_record__taken_by")
    return get_object_or_404(rows, pk=pk)


@require_safe
def nonconformance(request: SignedIn, pk: UUID) -> HttpResponse:
    return _show(request, _nonconformance(request, pk))


def _show(request: SignedIn, found: Nonconformance, refusal: Refused | None = None, **bound: Any) -> HttpResponse:
    """The nonconformance as it is now; a form that was sent and refused is shown as it was typed."""
    is_open = found.state == Nonconformance.State.OPEN
    may_close = request.user.has_role(Role.QUALITY_MANAGER)
    may_concede = queries.may_concede(request.user, found)
    may_work = request.user.has_role(*WORKERS)
    today = timezone.now().astimezone(found.project.zone).date()
    takes_back = queries.kinds_taken_back_by(request.user, found)
    said = sayings.said_of([found.pk])[found.pk]
    searched = None if request.user.is_contractors else extent.found(found)
    parts = list(repaired_parts(request.user).filter(nonconformance=found)) if searched else []
    shown = {
        "nonconformance": found,
        "project": found.project,
        "asked": found.asked if found.asked and found.asked.is_told_to(request.user) else None,
        "entries": [
            (entry, queries.may_take_back(request.user, entry, takes_back))
            for entry in queries.dispositions_of(found, request.user)
        ],
        "told": [entry for kind in TOLD if (entry := sayings.last(said, kind))],
        "to_do": [(entry, bool(entry.due and entry.due < today)) for entry in sayings.still_to_do(said)],
        "extent": searched,
        "repaired": parts,
        "may_make_part": is_open
        and may_work
        and bool(searched and searched.outcome.finished and found.record_id)
        and all(part.undone_at for part in parts),
        "awaits": sayings.awaits_another(found, said),
        "steps": ageing.steps_of(found, timezone.now()),
        "sayings": _sayings(request, found, said, bound.get("say")),
        "missing": queries.missing_of([found]).get(found.pk, []),
        "may_work": is_open and may_work,
        "may_concede": is_open and may_concede,
        "may_issue": found.state == Nonconformance.State.DRAFT and may_close,
        "issue": bound.get("issue") or forms.Issue(auto_id="issue_%s"),
        "may_drop": found.state == Nonconformance.State.DRAFT and actions.may_drop(request.user, found),
        "drop": bound.get("drop") or forms.Drop(auto_id="drop_%s"),
        "may_answer": is_open and request.user.has_role(Role.CONTRACTOR, Role.CLIENT),
        "may_close": is_open and may_close and not found.record_id,
        "rework": bound.get("rework") or forms.RecordRework(auto_id="rework_%s", zone=found.project.zone),
        "concede": bound.get("concede") or forms.Concede(auto_id="concede_%s"),
        "answer": bound.get("answer") or forms.Answer(auto_id="answer_%s"),
        "refusal": refusal,
    }
    wrong = next((form for form in bound.values() if form.errors), None)
    status = 422 if refusal else status_of(wrong) if wrong else 200
    return render(request, "nonconformance/nonconformance.html", shown, status=status)


def _sayings(
    request: SignedIn, found: Nonconformance, said: list[Disposition], bound: forms.Say | None
) -> list[tuple[sayings.Saying, forms.Say]]:
    """What the person may say about it now, with its form; one that was refused as it was typed."""
    kind = bound.data.get("kind") if bound else ""
    shown = []
    for saying in sayings.sayings_open_to(request.user, found, said):
        if bound and saying.kind == kind:
            shown.append((saying, bound))
            continue
        new = {"id": new_id(), "kind": saying.kind.value}
        to_do = sayings.still_to_do(said)
        shown.append((saying, forms.Say(initial=new, saying=saying, to_do=to_do, zone=found.project.zone)))
    return shown


@require_POST
def nonconformance_say(request: SignedIn, pk: UUID) -> HttpResponse:
    """Any entry but rework, a concession and an answer; which one, the form says."""
    found = _nonconformance(request, pk)
    saying = sayings.SAYINGS.get(request.POST.get("kind", ""))
    if saying is None:
        return _show(request, found, Refused(f"Give as kind one of {', '.join(sayings.SAYINGS)}.", field="kind"))
    require(request.user, *saying.roles, to=saying.to)
    to_do = sayings.still_to_do(sayings.said_of([found.pk])[found.pk])
    form = forms.Say(request.POST, saying=saying, to_do=to_do, zone=found.project.zone)
    return answered(
        request, form, lambda v: actions.say(request.user, nonconformance=found, **v),
        told=f"{saying.kind.label}: recorded.", then=redirect("nonconformance", pk),
        again=lambda: _show(request, _nonconformance(request, pk), _shown_nowhere(request, found, form), say=form),
    )  # fmt: skip


def _shown_nowhere(request: SignedIn, found: Nonconformance, form: forms.Say) -> Refused | None:
    """The refusal of a form that the page no longer offers, since the nonconformance has moved on."""
    said = sayings.said_of([found.pk])[found.pk]
    offered = {saying.kind.value for saying in sayings.sayings_open_to(request.user, found, said)}
    if form.data.get("kind") in offered:
        return None
    return Refused([Fault(str(words), name) for name, errors in form.errors.items() for words in errors])


@require_POST
def nonconformance_rework(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _nonconformance(request, pk)
    form = forms.RecordRework(request.POST, auto_id="rework_%s", zone=found.project.zone)
    return answered(
        request, form, lambda v: actions.record_rework(request.user, nonconformance=found, **v),
        told="The rework is recorded.", then=redirect("nonconformance", pk),
        again=lambda: _show(request, _nonconformance(request, pk), rework=form),
    )  # fmt: skip


@require_POST
def nonconformance_answer(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _nonconformance(request, pk)
    form = forms.Answer(request.POST, auto_id="answer_%s")
    return answered(
        request, form, lambda v: actions.answer(request.user, nonconformance=found, **v),
        told="Your answer is recorded; the quality managers are told.", then=redirect("nonconformance", pk),
        again=lambda: _show(request, _nonconformance(request, pk), answer=form),
    )  # fmt: skip


@require_POST
def nonconformance_concede(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _nonconformance(request, pk)
    form = forms.Concede(request.POST, auto_id="concede_%s")
    return answered(
        request, form, lambda v: actions.concede(request.user, nonconformance=found, **v),
        told=f"NC-{found.number:03d} is accepted as it is; those concerned are told.",
        then=redirect("nonconformance", pk), again=lambda: _show(request, _nonconformance(request, pk), concede=form),
    )  # fmt: skip


@page
def disposition_take_back(request: SignedIn, pk: UUID) -> HttpResponse:
    entry = get_object_or_404(queries.dispositions(request.user), pk=pk)
    actions.require_may_take_back(request.user, entry)
    form = forms.TakeBack(sent(request))
    if carried_out(form, lambda v: actions.take_back(request.user, disposition=entry, **v)):
        messages.success(request, "The entry is taken back; it stays readable.")
        return redirect("nonconformance", entry.nonconformance_id)
    shown = {"entry": entry, "nonconformance": entry.nonconformance, "project": entry.nonconformance.project,
             "form": form, "submit": "Take it back"}  # fmt: skip
    return render(request, "nonconformance/take_back.html", shown, status=status_of(form))


@require_POST
def nonconformance_close(request: SignedIn, pk: UUID) -> HttpResponse:
    return _pressed(request, pk, actions.close_nonconformance, told="is closed.")


@require_POST
def nonconformance_issue(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _nonconformance(request, pk)
    form = forms.Issue(request.POST, auto_id="issue_%s")
    return answered(
        request, form, lambda v: actions.issue_draft(request.user, nonconformance=found, **v),
        told=f"NC-{found.number:03d} is issued and open; those concerned are told.",
        then=redirect("nonconformance", pk), again=lambda: _show(request, _nonconformance(request, pk), issue=form),
    )  # fmt: skip


def _pressed(request: SignedIn, pk: UUID, act: Callable[..., Any], *, told: str) -> HttpResponse:
    """What a button alone asks for; a refusal is shown on the page."""
    found = _nonconformance(request, pk)
    try:
        act(request.user, nonconformance=found)
    except NotAllowed:
        raise
    except Refused as refusal:
        return _show(request, _nonconformance(request, pk), refusal)
    messages.success(request, f"NC-{found.number:03d} {told}")
    return redirect("nonconformance", pk)


@require_POST
def nonconformance_drop(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _nonconformance(request, pk)
    form = forms.Drop(request.POST, auto_id="drop_%s")
    return answered(
        request, form, lambda v: actions.drop_draft(request.user, nonconformance=found, **v),
        told=f"NC-{found.number:03d} is not issued; the draft stays readable.", then=redirect("nonconformance", pk),
        again=lambda: _show(request, _nonconformance(request, pk), drop=form),
    )  # fmt: skip


@page
def nonconformance_new(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    require(request.user, *actions.RAISERS, to="raise a nonconformance")
    form = forms.RaiseNonconformance(sent(request), by=request.user, project=project, initial=_given(request))
    raised: list[Nonconformance] = []

    def act(values: dict[str, Any]) -> None:
        names = ("against", "area", "coat", "lot", "batch", "gauge", "named")
        about = actions.About(**{name: values.pop(name) for name in names if values.get(name)})
        more = {name: values[name] for name in ("title", "description", "asked", "as_draft") if name in values}
        made = values.get("id") or new_id()
        raised.append(actions.raise_once(request.user, id=made, project=project, about=about, **more)[0])

    if carried_out(form, act):
        waits = "a draft until a quality manager issues it" if raised[0].state == Nonconformance.State.DRAFT else "open"
        messages.success(request, f"NC-{raised[0].number:03d} is raised; it is {waits}.")
        return redirect("nonconformance", raised[0].pk)
    shown = {"project": project, "form": form, "submit": "Raise it", "may_issue": request.user.has_role(*WORKERS)}
    return render(request, "nonconformance/nonconformance_new.html", shown, status=status_of(form))


def _given(request: SignedIn) -> dict[str, Any]:
    """A new id, and what the page that led here names."""
    named = {name: request.GET[name] for name in ("against", "area", "lot", "batch", "gauge") if request.GET.get(name)}
    return {"id": new_id(), **named}
