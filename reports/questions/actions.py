"""Answering a question about readings, and opening it again."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Refused
from reports.questions.models import ReadingAnswer, ReadingQuestion


@transaction.atomic
def answer(
    by: Person, *, question: ReadingQuestion, outcome: str, text: str, at: datetime | None = None
) -> ReadingAnswer:
    """Say what explains it, that it is taken up, or that it is open again; each stays readable, the last one counts.

    Raises NotAllowed but for the quality manager, and Refused without a text, or where it stands so already.
    """
    require(by, Role.QUALITY_MANAGER, to="answer a question about readings")
    if not text.strip():
        raise Refused("Say what explains it, what is done about it, or why it is open again.", field="text")
    found = ReadingQuestion.objects.select_for_update().get(pk=question.pk)
    if found.state == outcome == ReadingQuestion.State.OPEN:
        raise Refused("It is open already.", field="outcome")
    row = ReadingAnswer.objects.create(
        question=found, outcome=outcome, text=text.strip(), by=by, at=at or timezone.now()
    )  # fmt: skip
    ReadingQuestion.objects.filter(pk=found.pk).update(state=outcome)
    # Without the project, so that who reads the journal of one sees nothing of it; without the words of the answer.
    journal.record(
        "reading_question.answered", found, by=by, before={"state": found.state}, after={"state": outcome}, at=row.at
    )
    return row
