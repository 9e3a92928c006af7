"""Two people at the same moment: one state at the end, one clear sentence for the other. Real parallel transactions."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from threading import Barrier
from typing import Any

import pytest
from django.db import connection, transaction

from accounts.models import Person, Role, RoleGrant
from inspection.foundation.refusals import Conflict
from inspection.holdpoints import actions
from inspection.holdpoints.models import Decision
from inspection.nonconformance import actions as nonconformance
from inspection.nonconformance.models import Nonconformance
from inspection.projects.models import Membership
from inspection.standing.models import Standing
from inspection.standing.queries import compute
from tests.cast import MORNING, PASSWORD, Cast
from tests.holdpoints.scene import a_point, signed, sound_record
from tests.standing.scene import measure, verify

pytestmark = [pytest.mark.postgresql, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def cast(transactional_db: None) -> Cast:
    from tests import cast as casting

    return casting.cast()


def at_once(*deeds: Callable[[], Any]) -> list[Any]:
    """What each deed gave or raised, all begun at the same moment, each in a transaction and connection of its own."""
    start = Barrier(len(deeds))

    def run(deed: Callable[[], Any]) -> Any:
        start.wait()
        try:
            with transaction.atomic():
                return deed()
        except Exception as fault:
            return fault
        finally:
            connection.close()

    with ThreadPoolExecutor(len(deeds)) as pool:
        return list(pool.map(run, deeds))


def test_of_two_who_decide_at_once_one_wins_and_the_other_reads_who(cast: Cast) -> None:
    colleague = Person(name="Cleo Client", email="cleo@example.com", organisation=cast.owner, confirmed_at=MORNING)
    colleague.set_password(PASSWORD)
    colleague.save()
    RoleGrant.objects.create(person=colleague, role=Role.CLIENT)
    Membership.objects.create(project=cast.site.project, person=colleague, organisation=cast.owner, role=Role.CLIENT)
    for coat, kind in ((0, "hold"), (1, "hold"), (2, "hold"), (0, "witness"), (1, "witness")):
        point = a_point(cast, coat=coat, kind=kind)
        sound_record(cast, coat=coat)
        shown = signed(point)
        ends = at_once(
            lambda shown=shown: actions.release(cast.clara, **shown),
            lambda shown=shown: actions.refuse(colleague, **shown, reason="Sags"),
        )
        (decision,) = [end for end in ends if isinstance(end, Decision)]
        (refusal,) = [end for end in ends if isinstance(end, Conflict)]
        assert f"{decision.signed_as} has {decision.outcome} this point already" in str(refusal)
        point.refresh_from_db()
        assert (point.state, point.decisions.count()) == (decision.outcome, 1)


def test_two_failing_measurements_at_once_raise_one_nonconformance(cast: Cast) -> None:
    ends = at_once(*(lambda: measure(cast, "09:00", "09:40", verdict="fail") for _ in range(4)))
    assert [type(end).__name__ for end in ends] == ["ThicknessRecord"] * 4
    assert Nonconformance.objects.count() == 1


def test_numbers_raised_at_once_are_all_different(cast: Cast) -> None:
    def deed() -> Nonconformance:
        return nonconformance.raise_nonconformance(
            cast.ines, area=cast.site.area, coat=cast.site.coats[0], title="Dust in the film"
        )

    at_once(*(deed for _ in range(6)))
    assert sorted(Nonconformance.objects.values_list("number", flat=True)) == [1, 2, 3, 4, 5, 6]


def test_a_record_and_its_closing_check_at_once_end_in_the_standing_of_both(cast: Cast) -> None:
    verify(cast, "06:40")
    for minute in range(6):
        ends = at_once(
            lambda minute=minute: measure(cast, f"09:0{minute}", "09:40"),
            lambda minute=minute: verify(cast, f"17:3{minute}"),
            lambda minute=minute: measure(cast, f"10:0{minute}", "10:40"),
        )
        assert not [end for end in ends if isinstance(end, Exception)]
    stored = {row.pk: (row.state, tuple(row.reasons), row.opening_id, row.closing_id) for row in Standing.objects.all()}
    judged = compute(stored, datetime.now(UTC))
    assert stored == {pk: (j.state, j.reasons, j.opening, j.closing) for pk, j in judged.items()}
    assert len(stored) == 12
