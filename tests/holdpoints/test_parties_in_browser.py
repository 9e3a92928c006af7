"""What waits for a person, several points at once, and what a contractor sees, in Chromium: phone and desk, light and
dark."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse

from inspection.holdpoints import actions
from inspection.holdpoints.models import HoldPoint
from tests.browsing import PageAs
from tests.cast import Cast
from tests.holdpoints.planned import a_line, plan_of
from tests.holdpoints.test_browser import fits
from tests.holdpoints.test_party_letters import a_painter

pytestmark = pytest.mark.browser
Axe = Callable[[Any], None]


@pytest.mark.parametrize(("width", "dark"), [(390, False), (1280, True)])
def test_every_page_fits_and_axe_finds_nothing(page_as: PageAs, axe: Axe, cast: Cast, width: int, dark: bool) -> None:
    project, painter = cast.site.project, a_painter(cast, cast.site.area)
    plan = plan_of(cast)
    a_line(plan, "1", needs=("climate",), letters={"client": "hold", "contractor": "hold"})
    a_line(plan, "2", coat=2, needs=(), letters={"client": "hold", "contractor": "perform"})
    actions.apply_plan(cast.quinn, project=project, areas=[cast.site.area, cast.site.other_area])
    first = HoldPoint.objects.get(line__number="1", area=cast.site.area)
    second, other = HoldPoint.objects.filter(line__number="2").order_by("area__code")
    actions.present_points(painter, project=project, points=[second.pk])
    actions.close_points(cast.quinn, project=project, points=[other.pk], reason="Stainless steel, not coated")
    actions.give_letter(
        cast.quinn, project=project, points=[first.pk], reason="Survey", party_kind="contractor", letter="W"
    )
    several, matrix = (reverse(name, args=[project.pk]) for name in ("points_several", "points_matrix"))
    waits = reverse("points_awaited")
    pages = {
        cast.clara: [waits, f"{waits}?state=unready", f"{waits}?letter=witness"],
        cast.quinn: [several, matrix, reverse("plan", args=[project.pk])],
        painter: [
            waits, reverse("board"), matrix, reverse("plan", args=[project.pk]), several,
            *(reverse("point", args=[point.pk]) for point in (first, second)), reverse("project", args=[project.pk]),
        ],
    }  # fmt: skip
    for person, addresses in pages.items():
        page = page_as(person, width=width, dark=dark)
        for address in addresses:
            answer = page.goto(address)
            assert answer is not None
            assert answer.status == 200, address
            axe(page)
            assert fits(page), address
