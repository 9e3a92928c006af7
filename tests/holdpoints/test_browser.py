"""Board, point and nonconformances in Chromium: at a phone's and a desk's width, light and dark, without scripts."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse

from inspection.holdpoints.models import HoldPoint
from tests.browsing import PageAs
from tests.cast import PASSWORD, Cast
from tests.holdpoints.story import story

pytestmark = pytest.mark.browser
Axe = Callable[[Any], None]


def fits(page: Any) -> bool:
    """Whether nothing sticks out sideways."""
    return bool(page.evaluate("document.documentElement.scrollWidth <= innerWidth"))


@pytest.mark.parametrize(("width", "dark"), [(390, False), (1280, True)])
def test_every_page_fits_and_axe_finds_nothing(page_as: PageAs, axe: Axe, cast: Cast, width: int, dark: bool) -> None:
    told = story(cast)
    project = cast.site.project.pk
    of_client = [
        reverse("board"),
        reverse("board") + "?place=released",
        reverse("points_release", args=[project]),
        *(reverse("point", args=[point.pk]) for point in (told.ready, told.doubted, told.refused, told.unmeasured)),
        reverse("nonconformance_list"),
        reverse("nonconformance", args=[told.nonconformance.pk]),
    ]
    of_manager = [
        reverse("point", args=[told.refused.pk]),
        reverse("nonconformance", args=[told.nonconformance.pk]),
        reverse("points_plan", args=[project]),
        reverse("nonconformance_new", args=[project]),
    ]
    for person, addresses in ((cast.clara, of_client), (cast.quinn, of_manager)):
        page = page_as(person, width=width, dark=dark)
        for address in addresses:
            assert page.goto(address).status == 200
            axe(page)
            assert fits(page), address


def test_the_client_releases_on_a_phone_without_scripts(page_as: PageAs, cast: Cast) -> None:
    told = story(cast)
    page = page_as(cast.clara, scripts=False)
    page.goto(reverse("board"))
    page.get_by_role("link", name="Primer accepted").first.click()
    assert page.get_by_role("heading", level=1).inner_text() == "Primer accepted, A2"
    release = page.locator("form", has=page.get_by_role("button", name="Sign and release"))
    release.get_by_label("Your password").fill("guess")
    release.get_by_role("button").click()
    assert page.get_by_role("alert").get_by_text("That is not your password; nothing was decided.").is_visible()
    release.get_by_label("Your password").fill(PASSWORD)
    release.get_by_role("button").click()
    assert page.get_by_role("status").inner_text() == "Primer accepted, A2 is released."
    assert HoldPoint.objects.get(pk=told.ready.pk).state == "released"


def test_the_keyboard_alone_reaches_the_refusal(page_as: PageAs, axe: Axe, cast: Cast) -> None:
    told = story(cast)
    page = page_as(cast.clara, width=1280)
    page.goto(reverse("point", args=[told.ready.pk]))
    page.get_by_text("Refuse the point").focus()
    page.keyboard.press("Enter")
    refuse = page.locator("form", has=page.get_by_role("button", name="Sign and refuse"))
    refuse.get_by_label("Why it is refused").fill("Holidays at the nozzle")
    refuse.get_by_label("Your password").fill(PASSWORD)
    page.keyboard.press("Enter")
    page.get_by_role("status").wait_for()
    axe(page)
    assert HoldPoint.objects.get(pk=told.ready.pk).state == "refused"
