"""Every page of tests after paint and of rework at the widths of a phone and a desk, light and dark, with axe."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from inspection.fieldwork.cautions import confirm_cautions
from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.pulloff.recording import PULL_OFF
from inspection.nonconformance import actions
from inspection.nonconformance.models import ReworkItem
from tests.cast import Cast
from tests.fieldwork.after_paint import stored
from tests.fieldwork.test_after_paint import HOLE, KINDS
from tests.fieldwork.test_pull_off import observed

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.browser]


def pages(cast: Cast) -> dict[str, str]:
    of_project, at = f"/projects/{cast.site.project.pk}", timezone.now() - timedelta(hours=2)
    confirm_cautions(cast.ines, project=cast.site.project, kind=BY_NAME["highvoltage"])
    found = {}
    for name, (kind, usual) in {**KINDS, "pulloff": (PULL_OFF, observed())}.items():
        holes = {"holidays": [HOLE]} if "holidays" in usual else {}
        record = stored(cast, kind, usual | holes, taken_at=at)
        found |= {
            f"{name}s": f"/{name}/", name: f"/{name}/{record.pk}/", f"record {name}": f"{of_project}/{name}/new/",
            f"correct {name}": f"{of_project}/{name}/new/?replaces={record.pk}",
        }  # fmt: skip
    first, second, third = ReworkItem.objects.order_by("pk")[:3]
    done = actions.mark_done(
        cast.quinn, item=second, what="Touched up", done_by="Crew 2", done_at=at + timedelta(hours=1)
    )
    actions.mark_done(cast.ines, item=third, what="Touched up", done_by="Crew 2", done_at=at + timedelta(hours=1))
    return found | {
        "today": "/today/", "area": f"/projects/areas/{cast.site.area.pk}/", "items": "/rework/",
        "item": f"/rework/{first.pk}/", "item to look at": f"/rework/{second.pk}/", "own item": f"/rework/{third.pk}/",
        "open an item": f"{of_project}/rework/new/", "take back": f"/rework/entries/{done.pk}/take-back/",
    }  # fmt: skip


@pytest.mark.parametrize(("width", "dark"), [(390, True), (1280, False)])
def test_axe_finds_nothing_and_no_page_is_wider_than_its_screen(
    page_as: Callable[..., Page], axe: Callable[[Page], None], cast: Cast, width: int, dark: bool
) -> None:
    shown = pages(cast)
    other = page_as(cast.quinn, width=width, dark=dark)
    other.goto(f"/projects/{cast.site.project.pk}/highvoltage/new/")
    expect(other.get_by_text("High voltage can kill")).to_be_visible()
    axe(other)
    page = page_as(cast.ines, width=width, dark=dark)
    for name, address in shown.items():
        answer = page.goto(address)
        assert (name, answer and answer.status) == (name, 200)
        axe(page)
        assert (name, page.evaluate("document.documentElement.scrollWidth") <= width) == (name, True)


def test_a_cut_test_is_recorded_on_a_phone_without_scripts(page_as: Callable[..., Page], cast: Cast) -> None:
    page = page_as(cast.ines, width=390, scripts=False)
    page.goto(f"/projects/{cast.site.project.pk}/cuttest/new/?area={cast.site.area.pk}&coat={cast.site.coats[0].pk}")
    page.get_by_label("Cuts, a line for each").fill("web: 1\nflange: 6")
    page.get_by_label("Total dry film").fill("180")
    page.get_by_label("Spacing of the lattice").fill("3")
    page.get_by_label("Edition").fill("2020")
    page.get_by_role("button", name="Record").click()
    expect(page.get_by_text("6 is no rating of ISO 2409").first).to_be_visible()
    page.get_by_label("Cuts, a line for each").fill("web: 1\nflange: 0")
    page.get_by_role("button", name="Record").click()
    expect(page.get_by_role("link", name="Cut test, flange")).to_be_visible()
