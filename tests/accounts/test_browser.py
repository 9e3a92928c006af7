"""The pages of sign-in and people in a real browser: phone and desk, light and dark, with and without scripts."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.db import transaction

from accounts import actions, journal, qualifying
from accounts.models import JournalEntry
from tests.cast import PASSWORD, Cast, scheme

pytestmark = pytest.mark.browser
LOOKS = ((390, True), (1280, False))
Axe = Callable[[Any], None]
PageAs = Callable[..., Any]


@pytest.fixture
def busy(transactional_db: None, cast: Cast) -> Cast:
    """The cast with an open invitation, tokens, a qualification and some journal entries."""
    actions.make_token(cast.quinn, name="laptop in the site office", days=30)
    qualifying.add_qualification(
        cast.quinn, person=cast.quinn, scheme=scheme(), level="3", number="CI-1",
        issued=date(2024, 1, 1), expires=date(2029, 1, 1),
    )  # fmt: skip
    actions.invite(cast.admin, email="n@example.com", name="Nora New", organisation=cast.company, role="inspector")
    with transaction.atomic():
        journal.record(
            "gauge.moved", cast.gauge, by=cast.quinn, before={"holder": None}, after={"holder": cast.ines},
            reason="shift change",
        )  # fmt: skip
    return cast


@pytest.mark.parametrize(("width", "dark"), LOOKS)
def test_every_page_of_people_fits_and_axe_finds_nothing(
    busy: Cast, page_as: PageAs, axe: Axe, width: int, dark: bool
) -> None:
    entry = JournalEntry.objects.latest("pk").pk
    stranger, manager = page_as(None, width=width, dark=dark), page_as(busy.quinn, width=width, dark=dark)
    admin = page_as(busy.admin, width=width, dark=dark)
    _, token = actions.invite(busy.admin, email="o@example.com", name="O", organisation=busy.owner, role="client")
    visits = [
        (
            stranger,
            ["/sign-in/", "/sign-in/?unsent=1", "/password/", "/password/sent/", "/sign-up/", "/api/problems/refused/"],
        ),
        (stranger, [f"/invitation/{token}/", "/invitation/worn-out/"]),
        (manager, ["/me/", "/me/password/", "/me/tokens/new/", "/journal/", f"/journal/{entry}/", "/no/such/page/"]),
        (admin, ["/people/", "/people/invite/", "/people/organisations/new/", f"/people/{busy.ines.pk}/"]),
        (admin, ["/journal/", "/sign-out/", f"/people/{busy.ines.pk}/close/"]),
    ]
    for page, addresses in visits:
        for address in addresses:
            page.goto(address)
            axe(page)
            across = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            assert across <= 0, f"{address} scrolls sideways by {across} px at {width} px"


@pytest.mark.parametrize("scripts", [True, False])
def test_a_person_signs_in_makes_a_token_and_signs_out_with_the_keyboard(
    busy: Cast, page_as: PageAs, scripts: bool
) -> None:
    page = page_as(None, scripts=scripts)
    page.goto("/me/")
    page.get_by_label("E-mail address").press_sequentially(busy.quinn.email)
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_url("**/me/")
    page.get_by_role("link", name="Make a token").press("Enter")
    page.get_by_label("Name").fill("laptop in the site office")
    page.get_by_role("button", name="Make the token").press("Enter")
    assert page.get_by_role("alert").get_by_text("already have a token").is_visible()
    page.get_by_label("Name").fill("gauge upload")
    page.get_by_role("button", name="Make the token").press("Enter")
    assert page.get_by_label("Token").input_value().startswith("sc_")
    page.get_by_role("link", name="I have copied it").press("Enter")
    page.get_by_role("button", name="Sign out").press("Enter")
    page.wait_for_url("**/sign-in/")


@pytest.mark.parametrize("scripts", [True, False])
def test_the_menu_opens_on_a_phone_and_lies_open_at_a_desk(busy: Cast, page_as: PageAs, scripts: bool) -> None:
    phone = page_as(busy.admin, width=390, scripts=scripts)
    phone.goto("/me/")
    link = phone.get_by_role("navigation", name="Main").get_by_role("link", name="People")
    assert not link.is_visible()
    phone.get_by_text("Menu").press("Enter")
    assert link.is_visible()
    link.press("Enter")
    phone.wait_for_url("**/people/")
    desk = page_as(busy.admin, width=1280, scripts=scripts)
    desk.goto("/people/")
    link = desk.get_by_role("navigation", name="Main").get_by_role("link", name="People")
    assert link.is_visible()
    assert link.get_attribute("aria-current") == "page"
    assert not desk.get_by_text("Menu", exact=True).is_visible()


def test_what_is_touched_is_large_enough_for_a_gloved_finger(busy: Cast, page_as: PageAs) -> None:
    """At least 44 px in height, WCAG 2.2 success criterion 2.5.5 (AAA), for buttons, fields and the menu."""
    page = page_as(busy.admin, width=390)
    for address in ("/people/", "/people/invite/", f"/people/{busy.ines.pk}/", "/me/"):
        page.goto(address)
        page.get_by_text("Menu").click()
        small = page.evaluate(
            "() => [...document.querySelectorAll('button, select, .menu a, summary, a.button, input')]"
            # A box to tick is touched by the whole of its label.
            ".filter(e => e.getClientRects().length"
            " && (e.closest('label') || e).getBoundingClientRect().height < 44).map(e => e.outerHTML)"
        )
        assert not small, address


def test_focus_is_seen_and_the_first_tab_skips_to_the_content(busy: Cast, page_as: PageAs) -> None:
    page = page_as(busy.admin, width=1280)
    page.goto("/people/")
    page.keyboard.press("Tab")
    skip = page.get_by_role("link", name="Skip to the content")
    assert skip.bounding_box()["x"] >= 0
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.closest('main') !== null")


def test_printed_pages_leave_menu_and_buttons_away(busy: Cast, page_as: PageAs) -> None:
    page = page_as(busy.admin, width=1280)
    page.goto("/people/")
    page.emulate_media(media="print")
    assert not page.get_by_role("navigation", name="Main").is_visible()
    assert not page.get_by_role("link", name="Invite somebody").is_visible()
    assert page.get_by_text(busy.ines.email).is_visible()
