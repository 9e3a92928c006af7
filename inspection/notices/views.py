"""The notices of the next days, one notice, and giving one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from accounts.asking import stored_or_asked
from accounts.forms import status_of
from accounts.middleware import SignedIn
from accounts.models import Person
from accounts.rights import require
from inspection.foundation.ids import new_id
from inspection.foundation.narrowing import keeping, narrowed, page_number
from inspection.holdpoints.queries import points_seen_by
from inspection.notices import actions, forms, queries
from inspection.notices.actions.common import GIVERS, may_change
from inspection.notices.actions.giving import Sent
from inspection.notices.actions.steps import COMPANY
from inspection.notices.appointment import Method, appointment
from inspection.notices.choosing import MOST_AREAS, lines_notified
from inspection.notices.models import Notice
from inspection.notices.wording import Of, short, size, telling, when
from inspection.plan.calendar import NOTIFIED
from inspection.plan.models import PlanLine
from inspection.projects.models import InspectionArea, Party, Project, Section

page = require_http_methods(["GET", "HEAD", "POST"])
A_PAGE = 50
AREAS_SHOWN = 200
State = Notice.State
# The mark of each state, by one that the house's marks know.
MARKS = {
    State.STANDING: "notified", State.WITHDRAWN: "plain", State.HELD: "done", State.PARTLY: "incomplete",
    State.NOT_HELD: "refused",
}  # fmt: skip


@require_safe
def notice_list(request: SignedIn) -> HttpResponse:
    """The notices of a project, of a point, or of all that the person sees; those to come first."""
    narrow = narrowed(request, "when", "point")
    at, tab = timezone.now(), narrow.pop("when", "")
    tab = tab if tab in queries.WHEN else "ahead"
    rows = queries.notices_seen(request.user)
    project = _id(narrow.get("project", ""))
    if project:
        rows = rows.filter(project=project)
    if point := _id(narrow.get("point", "")):
        rows = rows.filter(places__point__in=points_seen_by(request.user).filter(pk=point))
    counts = queries.counted(rows, at)
    shown = Paginator(range(counts[tab]), A_PAGE).get_page(page_number(request))
    first = (shown.number - 1) * A_PAGE
    notices = list(queries.of_the_tab(rows, tab, at)[first : first + A_PAGE])
    site = Project.objects.visible_to(request.user).filter(pk=project).first() if project else None
    return render(
        request,
        "notices/list.html",
        {
            "rows": _rows(notices),
            "page": shown,
            "query": keeping(**narrow, when=tab),
            "tabs": [
                {"key": key, "words": words, "count": counts[key], "query": keeping(**narrow, when=key)}
                for key, words in queries.WHEN.items()
            ],
            "tab": tab,
            "project": site,
            "projects": Project.objects.visible_to(request.user),
            "unheld": queries.unheld_counts(site) if site and not request.user.is_contractors else [],
            "gives": request.user.has_role(*GIVERS),
            "may_give": bool(site) and request.user.has_role(*GIVERS),
        },
    )  # fmt: skip


def _id(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None


def _rows(notices: list[Notice]) -> list[dict[str, Any]]:
    of = queries.what_of([notice.pk for notice in notices]) if notices else {}
    return [
        {"notice": notice, "of": of[notice.pk], "mark": MARKS[State(notice.state)], "size": size(notice)}
        for notice in notices
    ]


@require_safe
def notice(request: SignedIn, pk: UUID) -> HttpResponse:
    """One notice with its parties, its places and all that was said of it."""
    found = get_object_or_404(queries.notices_seen(request.user), pk=pk)
    person, at = request.user, timezone.now()
    steps = queries.steps_of(found, person)
    stands = queries.party_stands(queries.parties_told(found, person), steps)
    places = Paginator(queries.places_of(found, person), A_PAGE).get_page(request.GET.get("page"))
    outcome = next((step for step in reversed(steps) if step.what == found.state), None)
    contractor = person.is_contractors
    attended = {} if contractor else queries.attendance_at(place.point_id for place in places if place.point_id)
    held = queries.held_at(outcome) if outcome and found.state == State.PARTLY else set()
    standing, mine = found.state == State.STANDING, queries.acknowledging(person, found)
    acknowledged = {stand.party.pk for stand in stands if stand.acknowledged}
    change, company = may_change(person, found), person.has_role(*COMPANY)
    shown = {
        "notice": found,
        "project": found.project,
        "mark": MARKS[State(found.state)],
        "when": when(found),
        "size": size(found),
        "short": short(found),
        "steps": steps,
        "stands": stands,
        "page": places,
        "places": [
            {"place": place, "attended": attended.get(place.point_id or place.notice_id, []), "held": place.pk in held}
            for place in places
        ],
        "partly": found.state == State.PARTLY,
        "outcome": outcome,
        "to_acknowledge": [party for party in mine if standing and party.pk not in acknowledged],
        "acknowledged": [party for party in mine if standing and party.pk in acknowledged],
        "may_move": standing and change,
        "may_restore": found.state == State.WITHDRAWN and change and found.begins_at > at,
        "may_tell_outcome": standing and company and found.begins_at <= at,
        "may_take_outcome_back": company and found.state in (State.HELD, State.PARTLY, State.NOT_HELD),
        "opens_points": not contractor,
    }
    return render(request, "notices/notice.html", shown)


@require_safe
def notice_file(request: SignedIn, pk: UUID) -> HttpResponse:
    """The appointment of one notice, for a calendar."""
    found = get_object_or_404(queries.notices_seen(request.user), pk=pk)
    at = found.steps.order_by("-number").values_list("at", flat=True)[0]
    told = telling(found, queries.what_of([found.pk])[found.pk])
    answer = HttpResponse(
        appointment(found, told, method=Method.PUBLISH, at=at), content_type="text/calendar; charset=utf-8"
    )
    answer["Content-Disposition"] = f'attachment; filename="notice-{found.number:03d}.ics"'
    return answer


@page
def notice_new(request: SignedIn, pk: UUID) -> HttpResponse:
    """Give notice of lines at the areas that the address narrows to, as the matrix does."""
    person = request.user
    project = get_object_or_404(Project.objects.visible_to(person), pk=pk)
    require(person, *GIVERS, to="give notice of an inspection")
    narrow = narrowed(request, "section", "activity", "party", "state", "words")
    every_line = lines_notified(project)
    lines = [line for line in every_line if _wanted(line, narrow)]
    sections = Section.objects.visible_to(person).filter(structure__project=project).select_related("structure")
    section = next((each for each in sections if str(each.pk) == narrow.get("section")), None)
    areas = queries.waiting_at(
        person, project, lines, section=section, words=narrow.get("words", ""), state=narrow.get("state", "")
    )
    total = areas.count()
    offered = list(areas[:AREAS_SHOWN])
    parties = _coming(person, project, lines)
    initial = {"id": new_id(), "lines": [str(lines[0].pk)] if len(lines) == 1 else []}
    form = forms.GiveNotice(
        request.POST or None, zone=project.zone, lines=lines, areas=offered, parties=parties, initial=initial,
        waiting=queries.lines_waiting(lines, offered),
    )  # fmt: skip
    made: list[Notice] = []
    left_out: list[Of] = []

    def act(values: dict[str, Any]) -> None:
        chosen = [line for line in lines if str(line.pk) in values["lines"]]
        named: dict[str, Any] = {"parties": [party for party in parties if str(party.pk) in values["parties"]]}
        if values["every"]:
            there = list(areas[: MOST_AREAS + 1])
            points = queries.points_waiting(chosen, there)
            named |= {"points": points} if points else {"lines": chosen, "areas": there}
        else:
            named |= {"lines": chosen, "areas": [area for area in offered if str(area.pk) in values["areas"]]}
        told = {name: values[name] for name in ("begins_at", "ends_at", "meeting_place", "told_m2", "note")}
        given, _ = actions.give_notice(
            person, id=values["id"], project=project, sent=Sent(**told, **named), confirmed=form.is_confirmed
        )
        made.append(given)
        left_out.extend(queries.decided_at(named.get("lines", ()), named.get("areas", ())))

    done, asking = stored_or_asked(form, act)
    if done:
        _say_given(request, made[0], left_out)
        return redirect("notice", made[0].pk)
    shown = {
        "project": project, "form": form, "sections": sections, "narrow": narrow, "total": total,
        "activities": PlanLine.Activity.choices, "kinds": Party.Kind.choices, "offered": offered, "asking": asking,
        "most": MOST_AREAS, "no_lines": not every_line, "confirmed": form.as_asked if asking else "",
    }  # fmt: skip
    return render(request, "notices/new.html", shown, status=422 if asking else status_of(form))


def _say_given(request: SignedIn, notice: Notice, left_out: Sequence[Of]) -> None:
    messages.success(request, f"{notice} is given; those concerned are told.")
    if left_out:
        told = "; ".join(map(str, left_out))
        messages.info(
            request, f"Left out, since nothing waits there; what was refused is presented again first: {told}."
        )


def _coming(person: Person, project: Project, lines: Sequence[PlanLine]) -> list[Party]:
    """The parties in sight that one of the lines is notified to."""
    seen = Party.objects.visible_to(person).filter(project=project, ended_at=None)
    coming = {each.party_kind for line in lines for each in line.interventions.all() if each.meaning in NOTIFIED}
    return [party for party in seen.select_related("organisation") if party.kind in coming]


def _wanted(line: PlanLine, narrow: dict[str, str]) -> bool:
    party = narrow.get("party")
    return narrow.get("activity", line.activity) == line.activity and (
        not party or any(each.party_kind == party for each in line.interventions.all())
    )


def areas_of(found: Notice) -> list[InspectionArea]:
    """The areas of a notice, by their codes."""
    rows = InspectionArea.objects.filter(pk__in=found.places.values("area")).select_related("structure")
    return list(rows.order_by("code", "pk"))
