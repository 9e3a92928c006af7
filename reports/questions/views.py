"""Pages of questions about readings. To anybody but the quality manager they are not there."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from accounts.forms import answered, sent, status_of
from accounts.middleware import SignedIn
from accounts.models import Person, Role
from reports.questions import actions
from reports.questions.finding import waiting
from reports.questions.forms import AnswerQuestion
from reports.questions.models import ReadingQuestion
from reports.questions.queries import questions
from reports.questions.words import NO_VERDICT, place_of, told

A_PAGE = 25


def the_managers(person: Person) -> Person:
    """The person, or 404: that there are such questions is told to nobody else."""
    if not person.has_role(Role.QUALITY_MANAGER):
        raise Http404
    return person


@require_safe
@never_cache
def question_list(request: SignedIn) -> HttpResponse:
    """The questions of one state, newest first; those that are open unless the address says otherwise."""
    person = the_managers(request.user)
    asked = request.GET.get("state", "")
    state = asked if asked in ReadingQuestion.State.values else ReadingQuestion.State.OPEN.value
    page = Paginator(questions(person, state=state), A_PAGE).get_page(request.GET.get("page"))
    shown = {
        "page": page,
        "rows": [(row, place_of(row.record), told(row)[0]) for row in page],
        "states": ReadingQuestion.State.choices,
        "state": state,
        "waiting": waiting().order_by().count(),
        "no_verdict": NO_VERDICT,
        "query": f"state={state}&",
    }
    return render(request, "reports/question_list.html", shown)


@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
def question(request: SignedIn, pk: UUID) -> HttpResponse:
    """One question with its arithmetic, and what was answered."""
    person = the_managers(request.user)
    row = get_object_or_404(questions(person), pk=pk)
    form = AnswerQuestion(sent(request), question=row)

    def act(values: dict[str, Any]) -> Any:
        return actions.answer(person, question=row, **values)

    def again() -> HttpResponse:
        shown = {"question": row, "told": told(row), "form": form, "place": place_of(row.record),
                 "other_place": place_of(row.other) if row.other else "", "no_verdict": NO_VERDICT}  # fmt: skip
        return render(request, "reports/question.html", shown, status=status_of(form))

    return answered(request, form, act, told="The answer is kept.", then=redirect("question", pk=row.pk), again=again)
