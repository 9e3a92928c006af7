"""The days of a project, one day, its entries and signatures."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.asking import stored_or_asked
from accounts.forms import answered, carried_out, sent, status_of
from accounts.middleware import SignedIn
from accounts.rights import require
from inspection.diary import actions, forms, queries, signing, work
from inspection.diary.kinds import BY_NAME, EntryKind, head_of
from inspection.diary.models import DaySignature, DiaryEntry
from inspection.foundation.ids import new_id
from inspection.foundation.narrowing import page_number
from inspection.projects.models import Project
from inspection.works.models import Crew

page = require_http_methods(["GET", "HEAD", "POST"])
A_PAGE = 31


def _project(request: SignedIn, pk: UUID) -> Project:
    found = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    queries.require_reader(request.user)
    return found


@require_safe
def day_list(request: SignedIn, pk: UUID) -> HttpResponse:
    project = _project(request, pk)
    shown = Paginator(queries.days_of(request.user, project), A_PAGE).get_page(page_number(request))
    days = list(shown.object_list)
    signers = queries.signers_of(request.user, project, days)
    return render(
        request, "diary/days.html",
        {"project": project, "page": shown, "rows": [(day, signers.get(day, [])) for day in days],
         "today": project.day_of(timezone.now()), "lost": queries.lost_in_all(request.user, project)},
    )  # fmt: skip


@require_safe
def day(request: SignedIn, pk: UUID, day: date) -> HttpResponse:
    project = _project(request, pk)
    return _show(request, project, day)


def _show(request: SignedIn, project: Project, day: date, form: forms.Sign | None = None) -> HttpResponse:
    told, today = queries.day_of(request.user, project, day), project.day_of(timezone.now())
    writes = request.user.has_role(*actions.WRITERS)
    initial = {"id": new_id(), "digest": told.mine.digest}
    shown = {
        "project": project, "day": told, "today": today, "may_write": writes and day <= today,
        "form": form or forms.Sign(initial=initial), "before": day - timedelta(days=1),
        "after": day + timedelta(days=1) if day < today else None,
    }  # fmt: skip
    return render(request, "diary/day.html", shown, status=status_of(form) if form else 200)


@require_POST
def day_sign(request: SignedIn, pk: UUID, day: date) -> HttpResponse:
    project = _project(request, pk)
    form = forms.Sign(request.POST)
    if not carried_out(form, lambda v: signing.sign_day(request.user, project=project, day=day, **v)):
        return _show(request, project, day, form)
    messages.success(request, "Your day is signed. What you add or correct from now on can be signed again.")
    return redirect("day", project.pk, day)


@page
def signature_withdraw(request: SignedIn, pk: UUID) -> HttpResponse:
    found = get_object_or_404(queries.signatures_seen(request.user), pk=pk)
    signing.refuse_strangers(request.user, found)
    form = forms.Why(sent(request))
    back = reverse("day", args=[found.project_id, found.day])
    return answered(
        request, form, lambda v: signing.withdraw_signature(request.user, signature=found, **v),
        told="The signature is withdrawn; it stays readable, and the day can be signed again.", then=redirect(back),
        again=lambda: _form(request, found.project, found.day, form, "Withdraw a signature", "Withdraw it", back),
    )  # fmt: skip


@require_safe
def signature(request: SignedIn, pk: UUID) -> HttpResponse:
    found: DaySignature = get_object_or_404(queries.signatures_seen(request.user), pk=pk)
    now = work.work_of(found.project, found.day, {found.by_id}).get(found.by_id, [])
    shown = {
        "signature": found, "project": found.project, "since": work.since(found.content, now),
        "covers": work.in_words(found.content), "things": work.things_of(found.content, now),
    }  # fmt: skip
    return render(request, "diary/signature.html", shown)


def _kind(name: str) -> EntryKind:
    if name not in BY_NAME:
        raise Http404
    return BY_NAME[name]


@page
def entry_new(request: SignedIn, pk: UUID, day: date, kind: str) -> HttpResponse:
    project, of = _project(request, pk), _kind(kind)
    require(request.user, *actions.WRITERS, to="write in the diary")
    initial = {"id": new_id(), **_asked_for(request, project, day)}
    form = forms.WriteEntry(sent(request), by=request.user, project=project, kind=of, initial=initial)
    done, asking = stored_or_asked(
        form,
        lambda v: actions.write_entry(
            request.user, id=v["id"], project=project, sent=form.sent(day), confirmed=form.is_confirmed
        ),
    )
    back = reverse("day", args=[project.pk, day])
    if done:
        messages.success(request, f"{of.name.label}: it is entered.")
        return redirect(back)
    return _form(request, project, day, form, of.add, "Enter it", back, asking=asking, own=of.own)


def _asked_for(request: SignedIn, project: Project, day: date) -> dict[str, Any]:
    """What an address that leads here says: a crew whose shift that day fills people and hours in."""
    try:
        asked = UUID(request.GET.get("crew", ""))
    except ValueError:
        return {}
    crew = Crew.objects.visible_to(request.user).filter(project=project, pk=asked).first()
    if crew is None:
        return {}
    shift = queries.shift_of_crew(request.user, project, day, crew)
    return {"crew": crew.pk, **({"people": shift.people or None, "hours": f"{shift.hours:f}"} if shift else {})}


def _entry(request: SignedIn, pk: UUID) -> DiaryEntry:
    return get_object_or_404(queries.entries_seen(request.user), pk=pk)


@require_safe
def entry(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _entry(request, pk)
    later = getattr(found, "replaced_by", None)
    reads = list(found.reads.filter(taken_back_at=None).select_related("person"))
    shown = {
        "entry": found, "head": head_of(found), "project": found.project, "later": later, "reads": reads,
        "versions": [(each, head_of(each)) for each in queries.versions_of(found, request.user)],
        "may_change": actions.may_change(request.user, found) and later is None,
        "may_read": request.user.has_role(*actions.WRITERS) and found.entered_by_id != request.user.pk,
        "read_by_me": any(read.person_id == request.user.pk for read in reads),
    }  # fmt: skip
    return render(request, "diary/entry.html", shown)


@page
def entry_correct(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _entry(request, pk)
    actions.refuse_strangers(request.user, found)
    of = BY_NAME[found.kind]
    form = forms.CorrectEntry(
        sent(request), by=request.user, project=found.project, kind=of, of=found,
        initial={"id": new_id(), **forms.as_entered(found)},
    )  # fmt: skip
    done, asking = stored_or_asked(
        form,
        lambda v: actions.correct_entry(
            request.user, entry=found, id=v["id"], sent=form.sent(found.day), reason=v["reason"],
            confirmed=form.is_confirmed,
        ),
    )  # fmt: skip
    back = reverse("day", args=[found.project_id, found.day])
    if done:
        messages.success(request, "It is corrected; the version before stays readable.")
        return redirect(back)
    heading = f"Correct: {of.name.label.lower()}"
    return _form(request, found.project, found.day, form, heading, "Store the correction", back, asking=asking,
                 own=of.own)  # fmt: skip


@page
def entry_withdraw(request: SignedIn, pk: UUID) -> HttpResponse:
    words = ("Withdraw an entry", "Withdraw it", "It is withdrawn; it stays readable and can be brought back.")
    return _with_reason(request, pk, actions.withdraw_entry, *words)


@page
def entry_restore(request: SignedIn, pk: UUID) -> HttpResponse:
    words = ("Bring an entry back", "Bring it back", "The entry counts again.")
    return _with_reason(request, pk, actions.restore_entry, *words)


def _with_reason(
    request: SignedIn, pk: UUID, act: Callable[..., Any], heading: str, submit: str, told: str
) -> HttpResponse:
    found = _entry(request, pk)
    actions.refuse_strangers(request.user, found)
    form, back = forms.Why(sent(request)), reverse("diary_entry", args=[pk])
    return answered(
        request, form, lambda v: act(request.user, entry=found, **v), told=told, then=redirect(back),
        again=lambda: _form(request, found.project, found.day, form, heading, submit, back),
    )  # fmt: skip


@require_POST
def note_read(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _entry(request, pk)
    actions.mark_read(request.user, entry=found)
    if request.POST.get("from") == "today":
        return redirect("today")
    return redirect("diary_entry", pk)


@require_POST
def note_unread(request: SignedIn, pk: UUID) -> HttpResponse:
    actions.mark_unread(request.user, entry=_entry(request, pk))
    return redirect("diary_entry", pk)


def _form(
    request: SignedIn, project: Project, day: date, form: Any, heading: str, submit: str, cancel: str, *,
    asking: list[str] | None = None, own: bool | None = None,
) -> HttpResponse:  # fmt: skip
    shown = {
        "project": project, "day": day, "form": form, "heading": heading, "submit": submit, "cancel": cancel,
        "touched": asking, "confirmed": form.as_asked if asking else "", "touched_head": "Is this meant?",
        "own": own,
    }  # fmt: skip
    return render(request, "diary/form.html", shown, status=422 if asking else status_of(form))
