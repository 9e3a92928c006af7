"""Pages of notices in Chromium: at a phone's and a desk's width, light and dark; one given without scripts."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from inspection.notices import actions
from inspection.notices.models import Notice
from tests.browsing import PageAs
from tests.cast import Cast
from tests.holdpoints.test_browser import fits
from tests.notices.scene import FRIDAY, HOUR, a_painter, asked, give, planned
from tests.past_triggers import rewrite

pytestmark = pytest.mark.browser
Axe = Callable[[Any], None]


@pytest.mark.parametrize(("width", "dark"), [(390, False), (1280, True)])
def test_every_page_fits_and_axe_finds_nothing(page_as: PageAs, axe: Axe, cast: Cast, width: int, dark: bool) -> None:
    line, painter = planned(cast), a_painter(cast)
    cast.site.project.refresh_from_db()
    asked(cast, 72)
    partly, withdrawn, standing = (give(cast, line, confirmed=True, note="Bring lamps") for _ in range(3))
    first = [partly.places.order_by("area__code")[0].pk]
    actions.record_outcome(cast.ines, notice=partly, outcome="partly", why="not_ready", places=first, at=FRIDAY + HOUR)
    actions.withdraw_notice(cast.ines, notice=withdrawn, reason="Rain", at=FRIDAY - HOUR)
    begin = timezone.now() + timedelta(hours=20)
    for notice in (withdrawn, standing):
        rewrite(Notice.objects.filter(pk=notice.pk), begins_at=begin, ends_at=begin + HOUR)
    project = cast.site.project.pk
    pages = {
        cast.ines: [
            reverse("today"), reverse("notice_new", args=[project]), reverse("notice_move", args=[standing.pk]),
            reverse("notice_withdraw", args=[standing.pk]), reverse("notice_restore", args=[withdrawn.pk]),
            reverse("notice_outcome", args=[standing.pk]), reverse("notice_reopen", args=[partly.pk]),
            reverse("notice", args=[partly.pk]),
        ],
        cast.clara: [
            reverse("board"), reverse("notice_list") + f"?project={project}", reverse("notice", args=[standing.pk]),
            reverse("notice_unacknowledge", args=[standing.pk]), reverse("points_matrix", args=[project]),
        ],
        painter: [reverse("asked_of_us"), reverse("notice_new", args=[project])],
    }  # fmt: skip
    for person, addresses in pages.items():
        page = page_as(person, width=width, dark=dark)
        for address in addresses:
            assert page.goto(address).status == 200, address
            axe(page)
            assert fits(page), address


def test_a_contractor_gives_notice_on_a_phone_without_scripts(page_as: PageAs, axe: Axe, cast: Cast) -> None:
    planned(cast)
    asked(cast, 200)
    page = page_as(a_painter(cast), scripts=False)
    page.goto(reverse("notice_new", args=[cast.site.project.pk]))
    page.get_by_label("1 Line 1").check()
    page.get_by_label("A1 Hatch").check()
    begin = timezone.now() + timedelta(hours=30)
    page.get_by_label("From").fill(f"{begin:%Y-%m-%dT%H:%M}")
    page.get_by_label("Until").fill(f"{begin + HOUR:%Y-%m-%dT%H:%M}")
    page.get_by_label("Where to meet").fill("Gangway")
    page.get_by_role("button", name="Give notice").click()
    assert page.get_by_text("The notice is short:").is_visible()
    page.get_by_role("button", name="Give notice").click()
    assert page.get_by_role("heading", level=1).inner_text() == "Notice N-001"
    assert page.get_by_text("Short notice").first.is_visible()
    assert Notice.objects.get().places.count() == 1
