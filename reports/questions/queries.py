"""Reads of questions about readings: the quality manager's alone."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import Prefetch, QuerySet

from accounts.models import Person
from reports.questions.models import ReadingAnswer, ReadingQuestion


def questions(person: Person, *, state: str = "") -> QuerySet[ReadingQuestion]:
    """Those in sight, newest first, with what a list shows of each."""
    rows = ReadingQuestion.objects.visible_to(person)
    if state:
        rows = rows.filter(state=state)
    answers = Prefetch("answers", ReadingAnswer.objects.select_related("by"))
    named = rows.select_related("project", *(f"{which}__{name}" for which in ("record", "other") for name in NAMED))
    return named.prefetch_related(answers)


NAMED: Sequence[str] = ("area__structure", "coat", "taken_by", "project", "replaced_by", "gauge")
