"""What waits for you: in all projects, to be decided from there under one signature."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from inspection.foundation.narrowing import keeping, narrowed, page_number
from inspection.holdpoints import actions, awaited, forms
from inspection.holdpoints.evidence import Evidence, evidence_of_many
from inspection.holdpoints.ground import MOST_LISTED
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.outline import Outline, outline_of
from inspection.holdpoints.queries import MOST_AT_ONCE
from inspection.plan.awaiting import unapproved_by_parties_of
from inspection.plan.models import Meaning, PlanLine
from inspection.projects.models import Project, Section

WINDOWS = (50, MOST_AT_ONCE)


@dataclass(frozen=True)
class AwaitedRow:
    point: HoldPoint
    outline: Outline
    # What the records say, each in a line; nothing of it to a painting contractor's people.
    found: tuple[str, ...]

    @property
    def decidable(self) -> bool:
        return self.point.state == HoldPoint.State.WAITING


def _row(request: SignedIn, evidence: Evidence) -> AwaitedRow:
    found: list[str] = []
    if not request.user.is_contractors:
        found += [evidence.kind.sentence(evidence.record)] if evidence.record else []
        found += [each.found for each in evidence.required if each.record]
    return AwaitedRow(evidence.point, outline_of(evidence), tuple(found))


@require_http_methods(["GET", "HEAD", "POST"])
def points_awaited(request: SignedIn) -> HttpResponse:
    sent = request.POST.getlist("shown")[:MOST_AT_ONCE]
    form = forms.DecideAwaited(request.POST or None, shown=sent)
    done: list[Decision] = []

    def act(values: dict[str, Any]) -> None:
        shown = {UUID(point): digest for point, digest in values.pop("shown").items()}
        done.extend(actions.decide_many(request.user, shown=shown, **values))

    if carried_out(form, act):
        points = "1 point is" if len(done) == 1 else f"{len(done)} points are"
        messages.success(request, f"{points} {done[0].get_outcome_display().lower()} under one signature.")
        return redirect(request.get_full_path())
    return render(request, "holdpoints/awaited.html", {**_shown(request), "form": form}, status=status_of(form))


def _shown(request: SignedIn) -> dict[str, Any]:
    narrow = narrowed(request, "section", "activity", "letter", "state", "many")
    letter = narrow.get("letter", "") if narrow.get("letter") in awaited.LETTERS else Meaning.HOLD.value
    state = narrow.get("state", "") if narrow.get("state") in awaited.STATES else ""
    projects = Project.objects.visible_to(request.user)
    sections = _sections(request, narrow.get("project", ""))
    points = _narrowed(awaited.awaited(request.user, letter, projects), narrow, sections)
    counts = awaited.counted(points)
    listed = awaited.in_order(points, state)
    many = next((each for each in WINDOWS if str(each) == narrow.get("many")), WINDOWS[0])
    total = min(counts[state] if state in counts else sum(counts.values()), MOST_LISTED)
    if state == "unready":
        total = min(listed.order_by()[: MOST_LISTED + 1].count(), MOST_LISTED)
    shown = Paginator(range(total), many).get_page(page_number(request))
    first = (shown.number - 1) * many
    rows = listed.select_related("project", "area__section", "coat", "line")[first : first + many]
    evidence = evidence_of_many(list(rows))
    keep = {name: value for name, value in narrow.items() if name != "state"}
    return {
        "page": shown, "rows": [_row(request, each) for each in evidence.values()], "letter": letter, "state": state,
        "decidable": any(each.point.state == HoldPoint.State.WAITING for each in evidence.values()),
        "states": [
            {"key": key, "words": words, "count": _counted(counts, key), "query": keeping(**keep, state=key)}
            for key, (words, _) in awaited.STATES.items()
            # Nobody holds what is passed, so that it waits for nobody's word.
            if key != "passed" or letter == Meaning.WITNESS
        ],
        "every": keeping(**keep), "query": keeping(**narrow), "narrow": narrow, "letters": awaited.LETTERS.items(),
        "projects": projects, "sections": sections, "activities": PlanLine.Activity.choices, "windows": WINDOWS,
        "many": many, "most": MOST_AT_ONCE, "more": total >= MOST_LISTED, "listed": MOST_LISTED,
        "acting": awaited.acting_words(request.user), "plans": unapproved_by_parties_of(request.user),
    }  # fmt: skip


def _sections(request: SignedIn, project: str) -> list[Section]:
    """Those of the project chosen; a section of one project says nothing of another's."""
    if not project:
        return []
    seen = Section.objects.visible_to(request.user).filter(structure__project=UUID(project))
    return list(seen.select_related("structure"))


def _narrowed(points: QuerySet[Any], narrow: dict[str, str], sections: list[Section]) -> QuerySet[Any]:
    if project := narrow.get("project"):
        points = points.filter(project=project)
    if section := next((each for each in sections if str(each.pk) == narrow.get("section")), None):
        points = points.filter(area__in=section.structure.areas.within(section))
    if (activity := narrow.get("activity")) in PlanLine.Activity.values:
        points = points.filter(line__activity=activity)
    return points


def _counted(counts: dict[str, int], key: str) -> str:
    if key not in counts:
        return ""
    return f"{counts[key]:,}" if counts[key] <= MOST_LISTED else f"over {MOST_LISTED:,}"
