"""Pages of a plan in Chromium: at a phone's and a desk's width, light and dark."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse

from inspection.plan import lines, revisions, templates_kept
from inspection.plan.lines import LineSent
from tests.browsing import PageAs
from tests.cast import PASSWORD, Cast
from tests.holdpoints.test_browser import fits
from tests.plan.test_plans import PRIMER, PROFILE, digest, draft

pytestmark = pytest.mark.browser
Axe = Callable[[Any], None]


@pytest.mark.parametrize(("width", "dark"), [(390, False), (1280, True)])
def test_every_page_fits_and_axe_finds_nothing(page_as: PageAs, axe: Axe, cast: Cast, width: int, dark: bool) -> None:
    first = draft(cast)
    template = templates_kept.begin_template(cast.quinn, name="Immersed steel", of=first).revisions.get()
    revisions.ask_approval(cast.quinn, revision=first)
    revisions.approve(cast.clara, revision=first, password=PASSWORD, digest=digest(first))
    revisions.bring_into_force(cast.quinn, revision=first)
    second = revisions.begin_revision(cast.quinn, plan=first.plan, note="Profile raised")
    lines.put_lines(cast.quinn, revision=second, lines=[LineSent(**{**PROFILE.__dict__, "criterion": "60 µm"}), PRIMER])
    revisions.ask_approval(cast.quinn, revision=second)
    (given,) = revisions.approve(cast.clara, revision=second, password=PASSWORD, digest=digest(second))
    home, foreign = cast.site.project.pk, cast.foreign.project.pk
    of_second = (
        "plan_revision", "plan_line_new", "plan_table", "plan_ask", "plan_force", "plan_throw_away", "plan_revise",
        "plan_keep",
    )  # fmt: skip
    of_manager = [
        *(reverse(name, args=[second.pk]) for name in of_second),
        *(reverse(name, args=[home]) for name in ("plan", "plan_legend", "plan_calendar")),
        *(reverse(name, args=[second.lines.first().pk]) for name in ("plan_line", "plan_line_out")),
        reverse("plan_begin", args=[foreign]), reverse("plan", args=[foreign]), reverse("plan_templates"),
        reverse("company_legend"), reverse("plan_revision", args=[template.pk]),
        reverse("plan_force", args=[template.pk]),
    ]  # fmt: skip
    of_client = [reverse("plan_revision", args=[second.pk]), reverse("plan_withdraw", args=[given.pk])]
    for person, addresses in ((cast.quinn, of_manager), (cast.clara, of_client)):
        page = page_as(person, width=width, dark=dark)
        for address in addresses:
            assert page.goto(address).status == 200
            axe(page)
            assert fits(page), address
