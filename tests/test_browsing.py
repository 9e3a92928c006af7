"""What the browser fixtures promise: signed in as the person, and able to find a fault."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests import browsing
from tests.cast import Cast

pytestmark = pytest.mark.browser


def test_a_page_is_signed_in_as_its_person(page_as: browsing.PageAs, cast: Cast) -> None:
    page = page_as(cast.ines)
    page.goto("/me/")
    assert page.get_by_text("ines@example.com").count()
    stranger = page_as(None)
    stranger.goto("/me/")
    assert stranger.url.endswith("/sign-in/?next=/me/")


@pytest.mark.parametrize("dark", [False, True])
def test_a_page_has_the_width_and_the_light_it_was_asked_for(page_as: browsing.PageAs, dark: bool) -> None:
    page = page_as(None, width=1280, dark=dark)
    page.goto("/sign-in/")
    assert page.evaluate("[innerWidth, matchMedia('(prefers-color-scheme: dark)').matches]") == [1280, dark]


def test_axe_finds_a_picture_without_a_text(page_as: browsing.PageAs, axe: Callable[[Any], None]) -> None:
    page = page_as(None)
    page.goto("/sign-in/")
    axe(page)
    page.evaluate("document.querySelector('main').append(document.createElement('img'))")
    with pytest.raises(AssertionError, match="alternative text"):
        axe(page)


def test_what_the_content_policy_refuses_fails_the_test(chromium: Any, live_server: Any) -> None:
    with pytest.raises(AssertionError, match="Content Security Policy"):
        set_a_style(chromium, live_server.url)


def set_a_style(chromium: Any, address: str) -> None:
    with browsing.visitors(chromium, address) as page_as:
        page = page_as(None)
        page.goto("/sign-in/")
        page.evaluate("document.body.setAttribute('style', 'color: red')")
        page.wait_for_timeout(200)
