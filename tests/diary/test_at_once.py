"""Two at once: the same entry, two corrections, two signatures; one stands, the other is told."""

from __future__ import annotations

import pytest
from django.utils import timezone

from accounts.models import JournalEntry
from inspection.diary import actions, queries, signing
from inspection.diary.checks import EntrySent
from inspection.diary.models import DaySignature, DiaryEntry
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict
from tests.cast import PASSWORD, Cast
from tests.holdpoints.test_at_once import at_once, cast

__all__ = ["cast"]
pytestmark = [pytest.mark.postgresql, pytest.mark.django_db(transaction=True)]


def test_of_what_is_sent_twice_at_once_one_stands(cast: Cast) -> None:
    project = cast.site.project
    day = project.day_of(timezone.now())
    for turn in range(3):
        pk, sent = new_id(), EntrySent(kind="visitor", day=day, who=f"V{turn}", organisation="Class", text="looked")

        def enter(pk: object = pk, sent: EntrySent = sent) -> object:
            return actions.write_entry(cast.ines, id=pk, project=project, sent=sent)

        ends = at_once(*[enter] * 3)
        assert sorted(new for _, new in ends) == [False, False, True]
        entry = DiaryEntry.objects.get(pk=pk)

        def correct(who: str, entry: DiaryEntry = entry, turn: int = turn) -> object:
            sent = EntrySent(kind="visitor", day=day, who=f"{who}{turn}", organisation="Class", text="looked")
            return actions.correct_entry(cast.ines, entry=entry, id=new_id(), sent=sent, reason="a slip")

        ends = at_once(lambda: correct("W"), lambda: correct("X"))
        assert [type(end) for end in ends if isinstance(end, Conflict)] == [Conflict]

        digest = queries.day_of(cast.ines, project, day).mine.digest
        told = {"project": project, "day": day, "digest": digest, "password": PASSWORD}
        ends = at_once(*[lambda: signing.sign_day(cast.ines, id=new_id(), **told)] * 2)  # noqa: B023 - called at once
        assert [type(end) for end in ends if isinstance(end, Conflict)] == [Conflict]
        assert DaySignature.objects.count() == JournalEntry.objects.filter(verb="day.signed").count() == turn + 1
