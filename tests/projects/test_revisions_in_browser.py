"""The pages of revisions and specifications on a phone and at a desk, light and dark, without scripts, with axe."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse

from inspection.projects.specifications import add_revision, add_specification, answer_deviation, ask_deviation
from tests.browsing import PageAs
from tests.cast import DAY, Cast
from tests.projects.test_revisions import issue, record

pytestmark = pytest.mark.browser


def addresses(cast: Cast) -> list[str]:
    quinn, site = cast.quinn, cast.site
    record(cast, site.coats[0])
    painting = add_specification(quinn, project=site.project, number="S-1", title="Painting of steel")
    paper = add_revision(quinn, specification=painting, revision="C2", dated=DAY, clauses="7.2", reviewer="Quinn")
    asked = ask_deviation(quinn, specification=painting, asked="By roller", asked_for="Foreman", asked_on=DAY)
    answer_deviation(
        quinn, deviation=asked, outcome="declined", answer="By spray", answered_by="Owner", answered_on=DAY
    )  # fmt: skip
    revision = issue(cast, specification_revision=paper)
    named = [("system", site.system), ("system", revision), ("system_revise", revision), ("system_take_back", revision),
             ("area", site.area), ("specification", painting), ("specification_revise", painting),
             ("deviation_ask", painting), ("deviation_answer", asked), ("deviation_withdraw", asked),
             ("project", site.project)]  # fmt: skip
    return [reverse(name, args=[thing.pk]) for name, thing in named]


@pytest.mark.parametrize(("width", "dark"), [(390, True), (1280, False), (390, False), (1280, True)])
def test_every_page_of_revisions_fits_and_axe_finds_nothing(
    page_as: PageAs, axe: Callable[[Any], None], cast: Cast, width: int, dark: bool
) -> None:
    where = addresses(cast)
    page = page_as(cast.quinn, width=width, dark=dark)
    for address in where:
        assert page.goto(address).status == 200
        page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), address
        shot = os.environ.get("SHOTS")
        if shot:
            page.screenshot(path=f"{shot}/rev_{width}_{dark}_{where.index(address)}.png", full_page=True)
