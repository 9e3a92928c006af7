"""Pages of crews: who is in them, their shifts, and what is changed about them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django import forms as django_forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts import journal
from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rehearsal import rehearse, told_first
from accounts.rights import require
from inspection.foundation.refusals import NotAllowed
from inspection.projects.models import Project
from inspection.works import crews, forms, planning, queries, shifts
from inspection.works.models import Crew, CrewPerson, Shift

page = require_http_methods(["GET", "HEAD", "POST"])
SHIFTS_A_PAGE = 40


@require_safe
def crew_list(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    shown = {
        "project": project, "crews": queries.crews_of(request.user, project, timezone.now()),
        "may_set_up": request.user.has_role(Role.QUALITY_MANAGER),
    }  # fmt: skip
    return render(request, "works/crew_list.html", shown)


@page
def crew_new(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="set up a crew")
    form = forms.AddCrew(request.POST or None, project=project)
    added: list[Crew] = []
    if carried_out(form, lambda values: added.append(crews.add_crew(request.user, project=project, **values))):
        messages.success(request, f"Crew {added[0]} is set up. Next, its people and its shifts.")
        return redirect("crew", added[0].pk)
    shown = {"form": form, "project": project, "heading": "Set up a crew", "submit": "Set it up"}
    cancel = reverse("crew_list", args=[project.pk])
    return render(request, "works/form.html", {**shown, "cancel": cancel}, status=status_of(form))


def _crew(request: SignedIn, pk: UUID) -> Crew:
    rows = Crew.objects.visible_to(request.user).select_related("project", "party__organisation")
    found: Crew = get_object_or_404(rows, pk=pk)
    return found


@require_safe
def crew(request: SignedIn, pk: UUID) -> HttpResponse:
    found, now = _crew(request, pk), timezone.now()
    [standing] = [each for each in queries.crews_of(request.user, found.project, now) if each.crew.pk == found.pk]
    shown_shifts = Paginator(queries.shifts_listed(found), SHIFTS_A_PAGE).get_page(request.GET.get("page"))
    for shift in shown_shifts:
        shift.crew = found
    shown = {
        "project": found.project, "crew": found, "now": standing, "parts": queries.parts_of(found),
        "page": shown_shifts, "at": now, "may_correct": shifts.may_tap(request.user, found, now),
        "may_set_up": request.user.has_role(Role.QUALITY_MANAGER),
    }  # fmt: skip
    return render(request, "works/crew.html", shown)


@page
def crew_people(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _crew(request, pk)
    require(request.user, Role.QUALITY_MANAGER, to="put people into a crew")
    form = forms.AddPeople(request.POST or None, crew=found)
    touched: list[str] = []

    def act(values: dict[str, Any]) -> None:
        sent = {**values, "people": list(values["people"])}
        touched.extend(
            told_first(
                sent, request.POST.get("confirmed", ""),
                lambda: crews.add_people(request.user, crew=found, **sent), but="crew.person_added",
            )
        )  # fmt: skip

    if carried_out(form, act) and not touched:
        messages.success(request, f"{', '.join(map(str, form.cleaned_data['people']))} joined {found}.")
        return redirect("crew", found.pk)
    values = {**form.cleaned_data, "people": list(form.cleaned_data["people"])} if touched else {}
    return _form(
        request, found, form, "Put people into the crew", "Put them in", touched=touched,
        confirmed=journal.digest_of(values) if touched else "",
    )  # fmt: skip


@page
def shifts_plan(request: SignedIn, pk: UUID) -> HttpResponse:
    """The shifts that a pattern makes are shown first, with what they change; sent again, they are stored."""
    found = _crew(request, pk)
    require(request.user, Role.QUALITY_MANAGER, to="plan shifts")
    form = forms.PlanShifts(request.POST or None, crew=found)
    shown: dict[str, Any] = {}

    def act(values: dict[str, Any]) -> None:
        spans = planning.shifts_of(form.pattern(), found.project)
        confirmed = journal.digest_of(spans)
        if request.POST.get("confirmed") == confirmed:
            shown["planned"] = shifts.plan_shifts(request.user, crew=found, spans=spans)
            return
        new: list[Shift] = []
        touched = rehearse(
            lambda: new.extend(shifts.plan_shifts(request.user, crew=found, spans=spans)), but="shift.planned"
        )
        starts = {shift.planned_begin for shift in new}
        proposed = [(begin, end, begin in starts) for begin, end in spans]
        shown.update(confirmed=confirmed, proposed=proposed, touched=touched, many=len(new))

    if carried_out(form, act) and "planned" in shown:
        many = len(shown["planned"])
        messages.success(request, f"{many} shift{'' if many == 1 else 's'} of {found} {_is(many)} planned.")
        return redirect("crew", found.pk)
    shown |= {"crew": found, "project": found.project, "form": form, "cancel": reverse("crew", args=[found.pk])}
    return render(request, "works/plan.html", shown, status=status_of(form))


def _is(many: int) -> str:
    return "is" if many == 1 else "are"


@require_POST
def shift_start(request: SignedIn, pk: UUID) -> HttpResponse:
    """One tap: the crew's shift begins now. A second tap changes nothing."""
    found = _crew(request, pk)
    shift, new = shifts.start_shift(request.user, crew=found)
    begun = f"{shift.begins_at.astimezone(found.project.zone):%Y-%m-%d %H:%M}"
    words = "begins" if new else "is under way since"
    messages.success(request, f"The shift of {found} {words} {begun}.")
    return _back(request, found)


@require_POST
def shift_end(request: SignedIn, pk: UUID) -> HttpResponse:
    """One tap: the shift ends now. A second tap changes nothing."""
    found = get_object_or_404(queries.shifts_seen_by(request.user), pk=pk)
    shift, new = shifts.end_shift(request.user, shift=found)
    ended = f"{shift.ends_at.astimezone(found.crew.project.zone):%Y-%m-%d %H:%M}"
    messages.success(request, f"The shift of {found.crew} {'ends' if new else 'had ended already,'} {ended}.")
    return _back(request, found.crew)


def _back(request: SignedIn, found: Crew) -> HttpResponseRedirect:
    """To the day's work, where the tap was made there; else to the crew."""
    return redirect("today") if request.POST.get("from") == "today" else redirect("crew", found.pk)


# --- changes ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Deed:
    """One change: what it needs a right to, its form and action, its verb in the journal, the words of its page."""

    to: str
    form: Callable[..., django_forms.Form]
    act: Callable[..., Any]
    verb: str
    heading: str
    submit: str
    question: str = ""
    by_members: bool = False


CREW_DEEDS = {
    "rename": Deed("rename a crew", forms.RenameCrew, crews.rename_crew, "crew.renamed", "Rename {thing}", "Rename it"),
    "end": Deed(
        "end a crew", forms.Why, crews.end_crew, "crew.ended", "End crew {thing}", "End it",
        "The parts of its people end now, and shifts still to come are called off. What was worked stays. It can be "
        "taken back.",
    ),
    "restore": Deed(
        "take the end of a crew back", forms.Why, crews.restore_crew, "crew.restored", "Take back the end of {thing}",
        "Take it back", "The people and the shifts that ended with the crew come back with it.",
    ),
}  # fmt: skip
PART_DEEDS = {
    "correct": Deed(
        "change a crew", forms.CorrectPart, crews.correct_part, "crew.part_corrected", "{thing}: from and until",
        "Store it", "A part ends by giving the moment it ended.",
    ),
    "remove": Deed(
        "change a crew", forms.Why, crews.remove_part, "crew.person_removed", "{thing}: entered by mistake",
        "Take them out", "As if they had never been in the crew. Whoever was in it and left is given an end instead.",
    ),
}  # fmt: skip
SHIFT_DEEDS = {
    "correct": Deed(
        "correct a shift", forms.CorrectTimes, shifts.correct_times, "shift.corrected", "Times of the shift of {thing}",
        "Store the times", "As they were, on the project’s clocks. Readings and checks are judged by them.",
        by_members=True,
    ),
    "replan": Deed(
        "plan shifts", forms.ReplanShift, shifts.replan_shift, "shift.replanned", "Plan the shift of {thing} otherwise",
        "Store the plan",
    ),
    "call-off": Deed(
        "call a shift off", forms.Why, shifts.call_off_shift, "shift.called_off", "Call off the shift of {thing}",
        "Call it off", "It is not worked, or was entered by mistake. It can be taken back.",
    ),
    "restore": Deed(
        "take back that a shift was called off", forms.Why, shifts.restore_shift, "shift.restored",
        "Shift of {thing}: called off by mistake", "Take it back",
    ),
}  # fmt: skip


@page
def crew_change(request: SignedIn, pk: UUID, deed: str) -> HttpResponse:
    found = _crew(request, pk)
    return _deed(request, found, found, "crew", CREW_DEEDS[deed])


@page
def part_change(request: SignedIn, pk: UUID, deed: str) -> HttpResponse:
    found = _one(request, CrewPerson.objects.visible_to(request.user).select_related("person", "crew__project"), pk)
    return _deed(request, found.crew, found, "part", PART_DEEDS[deed])


@page
def shift_change(request: SignedIn, pk: UUID, deed: str) -> HttpResponse:
    found = _one(request, queries.shifts_seen_by(request.user), pk)
    return _deed(request, found.crew, found, "shift", SHIFT_DEEDS[deed])


def _one(request: SignedIn, rows: QuerySet[Any], pk: UUID) -> Any:
    return get_object_or_404(rows, pk=pk)


def _deed(request: SignedIn, found: Crew, thing: Any, name: str, deed: Deed) -> HttpResponse:
    """Ask, tell what else would change, and do it."""
    if not deed.by_members:
        require(request.user, Role.QUALITY_MANAGER, to=deed.to)
    elif not shifts.may_correct(request.user, thing):
        raise NotAllowed(f"Only people of crew {found} and quality managers may {deed.to}.")
    form = deed.form(request.POST or None, thing=thing)
    heading, touched = deed.heading.format(thing=thing), list[str]()

    def act(values: dict[str, Any]) -> None:
        def store() -> Any:
            return deed.act(request.user, **{name: thing}, **values)

        touched.extend(told_first(values, request.POST.get("confirmed", ""), store, but=deed.verb))

    if carried_out(form, act) and not touched:
        messages.success(request, f"{heading}: done. The journal keeps why.")
        return redirect("crew", found.pk)
    confirmed = journal.digest_of(form.cleaned_data) if touched else ""
    return _form(
        request, found, form, heading, deed.submit, question=deed.question, touched=touched, confirmed=confirmed
    )


def _form(request: SignedIn, found: Crew, form: Any, heading: str, submit: str, **more: Any) -> HttpResponse:
    shown = {
        "crew": found, "project": found.project, "form": form, "heading": heading, "submit": submit,
        "cancel": reverse("crew", args=[found.pk]), **more,
    }  # fmt: skip
    return render(request, "works/form.html", shown, status=status_of(form))
