"""Several people at the same moment: each notice once, one clear sentence for who comes second. Real transactions."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.utils import timezone

from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict
from inspection.notices import actions
from inspection.notices.models import Notice
from tests.cast import Cast
from tests.holdpoints.test_at_once import at_once, cast  # noqa: F401 - a fixture
from tests.notices.scene import HOUR, give, planned, sent

pytestmark = [pytest.mark.postgresql, pytest.mark.django_db(transaction=True)]


def test_notices_given_at_once_are_each_kept_once_and_of_two_who_change_one_the_second_is_told(cast: Cast) -> None:  # noqa: F811 - the fixture
    line, own = planned(cast), new_id()
    begin = timezone.now() + timedelta(days=2)
    content = sent(cast, line, begins_at=begin, ends_at=begin + HOUR)
    project = cast.site.project
    # The same sent twice at once, and another one beside it.
    deeds = [
        lambda pk=pk: actions.give_notice(cast.ines, id=pk, project=project, sent=content)
        for pk in (own, own, new_id())
    ]
    answers = at_once(*deeds)
    assert sorted(new for _, new in answers) == [False, True, True]
    assert sorted(Notice.objects.values_list("number", flat=True)) == [1, 2]
    notice = Notice.objects.get(pk=own)

    def moved(hours: int) -> Notice:
        return actions.move_notice(
            cast.quinn, notice=notice, begins_at=begin + hours * HOUR, ends_at=begin + (hours + 1) * HOUR,
            meeting_place="Gate", reason="Rain", sequence=0,
        )  # fmt: skip

    told = at_once(
        lambda: moved(2), lambda: moved(3),
        lambda: actions.withdraw_notice(cast.ines, notice=notice, reason="Blasted again"),
    )  # fmt: skip
    assert sum(isinstance(answer, Notice) for answer in told) in {1, 2}
    assert all(isinstance(answer, (Notice, Conflict)) for answer in told)
    notice.refresh_from_db()
    steps = list(notice.steps.order_by("number").values_list("what", flat=True))
    assert steps in (["given", "withdrawn"], ["given", "moved", "withdrawn"])
    assert (notice.state, notice.sequence) == ("withdrawn", len(steps) - 1)
    call_command("standing", "--check")


def test_a_notice_given_while_its_points_are_decided_leaves_both_true(cast: Cast) -> None:  # noqa: F811 - the fixture
    from inspection.holdpoints import actions as holdpoints
    from inspection.holdpoints.models import HoldPoint

    line = planned(cast)
    point = HoldPoint.objects.get(area=cast.site.area)
    answers = at_once(
        lambda: give(cast, line),
        lambda: holdpoints.close_point(cast.quinn, point=point, reason="Not asked for"),
    )
    assert not [answer for answer in answers if isinstance(answer, Exception) and not hasattr(answer, "faults")]
    call_command("standing", "--check")
