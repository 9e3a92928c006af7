"""The board, one hold point with its evidence, and planning them."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.forms import answered, carried_out, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.foundation.narrowing import keeping, narrowed, page_number
from inspection.holdpoints import actions, forms, ground, queries
from inspection.holdpoints.actions.several import PRESENTERS
from inspection.holdpoints.board_rows import board_rows
from inspection.holdpoints.evidence import Evidence, evidence_of
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.outline import outline_of
from inspection.projects.models import Project

page = require_http_methods(["GET", "HEAD", "POST"])
POINTS_A_PAGE = 50
SINCE = ("climate_since", "links_since", "paint_since")
DECIDERS = (Role.CLIENT, Role.QUALITY_MANAGER)
# What many points can be decided under one signature, with the verb for it.
TOGETHER = {Decision.Outcome.RELEASED: "release", Decision.Outcome.REFUSED: "refuse", Decision.Outcome.WAIVED: "waive"}


@require_safe
def board(request: SignedIn) -> HttpResponse:
    narrow = narrowed(request, "place", "words", "retired")
    place = narrow.pop("place", "")
    place = place if place in ground.PLACES else ""
    project = UUID(narrow["project"]) if "project" in narrow else None
    words = narrow.get("words", "")
    projects = list(Project.objects.visible_to(request.user))

    def asked(number: int) -> tuple[dict[str, int], list[HoldPoint]]:
        first = (number - 1) * POINTS_A_PAGE
        return queries.board(
            request.user, projects, project=project, place=place, words=words, retired="retired" in narrow, first=first,
            many=POINTS_A_PAGE,
        )  # fmt: skip

    number = page_number(request)
    counts, placed = asked(number)
    total = sum(counts.values())
    listed = min(counts.get(place, 0) if place else total, ground.MOST_LISTED)
    shown = Paginator(range(listed), POINTS_A_PAGE).get_page(number)
    if shown.number != number:
        counts, placed = asked(shown.number)
    places = [
        {"key": key, "words": label, "count": _counted(counts.get(key, 0)), "query": keeping(**narrow, place=key)}
        for key, label in ground.PLACES.items()
    ]
    return render(
        request,
        "holdpoints/board.html",
        {
            "page": shown,
            "rows": board_rows(placed),
            "places": places,
            "place": place,
            "total": _counted(total),
            "more": (counts.get(place, 0) if place else total) > ground.MOST_LISTED,
            "most": ground.MOST_LISTED,
            "every": keeping(**narrow),
            "query": keeping(**narrow, **({"place": place} if place else {})),
            "projects": projects,
            "project": narrow.get("project", ""),
            "words": words,
            "retired": "retired" in narrow,
            "with_ground": not request.user.is_contractors,
            "is_client": request.user.has_role(Role.CLIENT),
            "may_plan": request.user.has_role(Role.QUALITY_MANAGER),
        },
    )


def _counted(many: int) -> str:
    """The number, or that there are more than are counted."""
    return f"{many:,}" if many <= ground.MOST_LISTED else f"over {ground.MOST_LISTED:,}"


def _point(request: SignedIn, pk: UUID) -> HoldPoint:
    points = queries.points_seen_by(request.user).select_related(
        "project", "area__structure", "coat__system", "line", "passed_draft"
    )
    return get_object_or_404(points, pk=pk)


@require_safe
def point(request: SignedIn, pk: UUID) -> HttpResponse:
    return _show(request, _point(request, pk))


def _show(request: SignedIn, found: HoldPoint, **bound: Any) -> HttpResponse:
    """The point with the evidence as it is now; a form that was sent and refused is shown as it was typed."""
    evidence = evidence_of(found)
    decisions = list(found.decisions.select_related("person", "record", "party__organisation").defer("evidence"))
    released_on = next((row.record for row in reversed(decisions) if row.outcome == "released"), None)
    may_decide = queries.may_decide(request.user, found)
    waiting = found.state == HoldPoint.State.WAITING
    attends = queries.attendance_noted_by(request.user, found)
    doubt = found.state == HoldPoint.State.RELEASED and evidence.in_doubt
    parties = queries.party_rows(request.user, found, decisions)
    shown = {
        "point": found,
        "project": found.project,
        "evidence": evidence,
        "decisions": decisions,
        "in_doubt": doubt,
        "measured_since": released_on is not None and evidence.record is not None and released_on != evidence.record,
        "may_release": may_decide and (waiting or evidence.came_since) and evidence.releasable,
        "may_refuse": may_decide and (waiting or doubt),
        "may_decide": may_decide,
        "may_present": found.state == HoldPoint.State.REFUSED
        and request.user.has_role(Role.INSPECTOR, Role.QUALITY_MANAGER),
        "may_plan": request.user.has_role(Role.QUALITY_MANAGER),
        "may_unrefuse": may_decide and queries.said_to_take_back(request.user, found) is not None,
        "may_waive": may_decide and waiting,
        "attends": attends,
        "waive": bound.get("waive") or forms.Waive(auto_id="waive_%s"),
        "attend": bound.get("attend")
        or (forms.NoteAttendance(auto_id="attend_%s", parties=attends) if attends else None),
        "unpresented": waiting and not evidence.rests_on_records and found.presented_at is None,
        "presented": bound.get("presented") or _presented(request, found, rests_on_records=evidence.rests_on_records),
        "before": queries.held_before(found) if waiting and not evidence.rests_on_records else [],
        "parties": parties,
        "spoken": queries.spoken_for(request.user, found, parties),
        **_since(evidence),
        "release": bound.get("release") or forms.Release(auto_id="release_%s", asks_why=evidence.asks_why),
        "refuse": bound.get("refuse") or forms.Refuse(auto_id="refuse_%s"),
        "present": bound.get("present") or forms.PresentAgain(auto_id="present_%s", zone=found.project.zone),
        "unrefuse": bound.get("unrefuse") or forms.TakeRefusalBack(auto_id="unrefuse_%s"),
    }
    if request.user.is_contractors:
        shown |= {"evidence": outline_of(evidence), "decisions": [], **dict.fromkeys(SINCE, ())}
    wrong = next((form for form in bound.values() if form.errors), None)
    template = "holdpoints/point_outlined.html" if request.user.is_contractors else "holdpoints/point.html"
    return render(request, template, shown, status=status_of(wrong) if wrong else 200)


def _since(evidence: Evidence) -> dict[str, Any]:
    """What came since the release and whoever released has not accepted."""
    return dict(zip(SINCE, (evidence.climate_since, evidence.links_since, evidence.paint_since), strict=True))


def _presented(request: SignedIn, found: HoldPoint, *, rests_on_records: bool) -> forms.Presented | None:
    """The form by which a point without records is presented, or that is taken back, for who may."""
    if rests_on_records or found.state != HoldPoint.State.WAITING or not request.user.has_role(*PRESENTERS):
        return None
    return forms.Presented(auto_id="presented_%s", back=found.presented_at is not None)


def _told_released(point: HoldPoint) -> str:
    """What the page says to who released; with another party's hold still open, that it is no more than their word."""
    if point.state == HoldPoint.State.RELEASED:
        return f"{point} is released."
    return f"{point} is released for your party; another that holds it has not said so yet."


@require_POST
def point_release(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _point(request, pk)
    form = forms.Release(request.POST, auto_id="release_%s", asks_why=evidence_of(found).asks_why)
    if carried_out(
        form,
        lambda v: actions.release(
            request.user,
            point=found,
            password=v["password"],
            evidence_digest=v["evidence"],
            acceptance=v.get("acceptance", ""),
        ),
    ):
        messages.success(request, _told_released(_point(request, pk)))
        return redirect("board")
    return _show(request, _point(request, pk), release=form)


@require_POST
def point_refuse(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _point(request, pk)
    form = forms.Refuse(request.POST, auto_id="refuse_%s")
    if carried_out(
        form,
        lambda v: actions.refuse(
            request.user, point=found, password=v["password"], reason=v["reason"], evidence_digest=v["evidence"]
        ),
    ):
        messages.success(request, f"{found} is refused; the reason stands on its page.")
        return redirect("point", pk)
    return _show(request, _point(request, pk), refuse=form)


@require_POST
def point_waive(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _point(request, pk)
    form = forms.Waive(request.POST, auto_id="waive_%s")

    def act(v: dict[str, Any]) -> None:
        actions.waive(
            request.user, point=found, password=v["password"], reason=v["reason"], evidence_digest=v["evidence"]
        )

    return answered(
        request, form, act, told=f"{found} is waived; the reason stands on its page.", then=redirect("point", pk),
        again=lambda: _show(request, _point(request, pk), waive=form),
    )  # fmt: skip


@require_POST
def point_attend(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _point(request, pk)
    actions.require_may_note_attendance(request.user, found)
    form = forms.NoteAttendance(
        request.POST, auto_id="attend_%s", parties=queries.attendance_noted_by(request.user, found)
    )
    return answered(
        request, form, lambda values: actions.note_attendance(request.user, point=found, **values),
        told="It is noted.", then=redirect("point", pk),
        again=lambda: _show(request, _point(request, pk), attend=form),
    )  # fmt: skip


@require_POST
def point_present(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _point(request, pk)
    form = forms.PresentAgain(request.POST, auto_id="present_%s", zone=found.project.zone)
    return answered(
        request, form, lambda values: actions.present_again(request.user, point=found, **values),
        told=f"{found} is presented again.", then=redirect("point", pk),
        again=lambda: _show(request, _point(request, pk), present=form),
    )  # fmt: skip


@require_POST
def point_presented(request: SignedIn, pk: UUID) -> HttpResponse:
    """Says that a point without records can be looked at; or, where it was said by mistake, that it cannot."""
    found = _point(request, pk)
    back = found.presented_at is not None
    form = forms.Presented(request.POST, auto_id="presented_%s", back=back)
    act = actions.take_presentation_back if back else actions.present_points
    return answered(
        request, form, lambda values: act(request.user, project=found.project, points=[found.pk], **values),
        told=f"{found} is {'no longer ' if back else ''}presented.", then=redirect("point", pk),
        again=lambda: _show(request, _point(request, pk), presented=form),
    )  # fmt: skip


@require_POST
def point_unrefuse(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _point(request, pk)
    form = forms.TakeRefusalBack(request.POST, auto_id="unrefuse_%s")
    return answered(
        request, form, lambda values: actions.take_refusal_back(request.user, point=found, **values),
        told=f"What was said of {found} is taken back; it waits for a decision again.", then=redirect("point", pk),
        again=lambda: _show(request, _point(request, pk), unrefuse=form),
    )  # fmt: skip


@page
def points_release(request: SignedIn, pk: UUID) -> HttpResponse:
    """The points of a project that wait for the person, to be released, refused or waived under one signature."""
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    require(request.user, *DECIDERS, to="decide points")
    asked = (request.POST or request.GET).get("outcome", "")
    outcome = Decision.Outcome(asked) if asked in TOGETHER else Decision.Outcome.RELEASED
    rows = queries.to_decide(request.user, project, outcome)
    sent = request.POST.getlist("shown")[: queries.MOST_AT_ONCE]
    form = forms.DecideMany(request.POST or None, shown=sent, outcome=outcome)
    done: list[Any] = []

    def act(values: dict[str, Any]) -> None:
        shown = {UUID(point): digest for point, digest in values.pop("shown").items()}
        done.extend(actions.decide_many(request.user, project=project, outcome=outcome, shown=shown, **values))

    if carried_out(form, act):
        points = "1 point is" if len(done) == 1 else f"{len(done)} points are"
        messages.success(request, f"{points} {outcome.label.lower()} under one signature.")
        return redirect("points_release", pk) if queries.to_decide(request.user, project) else redirect("board")
    shown = {
        "project": project, "form": form, "rows": rows, "most": queries.MOST_AT_ONCE, "outcome": outcome,
        "outcomes": list(TOGETHER.items()), "submit": f"Sign and {TOGETHER[outcome]}",
    }  # fmt: skip
    return render(request, "holdpoints/decide_many.html", shown, status=status_of(form))


@page
def points_plan(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="plan hold points")
    form = forms.PlanPoints(request.POST or None, project=project)
    planned: list[HoldPoint] = []
    if carried_out(form, lambda v: planned.extend(actions.plan_points(request.user, project=project, **v))):
        messages.success(
            request, "One point is planned." if len(planned) == 1 else f"{len(planned)} points are planned."
        )
        return redirect(f"/hold-points/?project={project.pk}")
    shown = {"project": project, "form": form, "submit": "Plan the points"}
    return render(request, "holdpoints/plan.html", shown, status=status_of(form))
