"""What is said of notices before something under them changes, and to whom."""

from __future__ import annotations

import pytest

from accounts.signals import left_unfinished
from inspection.notices import actions
from inspection.projects.breakdown import Change, touched
from inspection.projects.parties import hanging_on
from tests.cast import MORNING, Cast
from tests.notices.scene import give, planned

pytestmark = pytest.mark.django_db


def test_a_standing_notice_is_told_of_before_its_area_its_party_or_its_project_ends(cast: Cast) -> None:
    notice, area = give(cast, planned(cast)), cast.site.area
    stands = "1 notice of inspection stands"

    def said() -> list[bool]:
        told = {
            "retired": touched(cast.quinn, [area], Change.RETIRED),
            "divided": touched(cast.quinn, [area], Change.DIVIDED),
            "party": [each.words for each in hanging_on(cast.quinn, cast.site.project.parties.get(kind="client"))],
            "project": [each.words for each in left_unfinished(cast.quinn, project=cast.site.project)],
        }  # fmt: skip
        return [any(stands in words for words in sentences) for sentences in told.values()]

    assert said() == [True] * 4
    assert any("Give notice again" in words for words in touched(cast.quinn, [area], Change.DIVIDED))
    assert not any(stands in words for words in touched(cast.quinn, [area], Change.RENAMED))
    actions.withdraw_notice(cast.ines, notice=notice, reason="Rain", at=MORNING)
    assert said() == [False] * 4
