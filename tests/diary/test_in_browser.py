"""The day's pages in a browser: entered and signed with the keyboard, without scripts; axe on a phone and a desk."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone

from inspection.diary.actions import write_entry
from inspection.diary.checks import EntrySent
from inspection.diary.models import DaySignature, DiaryEntry
from inspection.foundation.ids import new_id
from tests.cast import PASSWORD, Cast


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_a_day_is_entered_and_signed_on_a_phone_and_read_on_a_desk(
    cast: Cast, page_as: Callable[..., Any], axe: Callable[[Any], None]
) -> None:
    project = cast.site.project
    today = project.day_of(timezone.now())
    note = EntrySent(kind="handover", day=today, text="Lamps are off after six.")
    write_entry(cast.quinn, id=new_id(), project=project, sent=note)
    page = page_as(cast.ines, width=390, scripts=False)
    day = f"/projects/{project.pk}/days/{today}/"
    page.goto(day)
    page.get_by_role("button", name="I have read it").press("Enter")
    page.goto(day)
    page.get_by_role("link", name="Enter a delay").click()
    page.get_by_label("Cause").select_option("weather")
    page.get_by_label("Hours lost").fill("2,5")
    page.get_by_label("Hours lost").press("Enter")
    page.get_by_text("Weather, 2.5 h").first.wait_for()
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Sign my day").press("Enter")
    page.get_by_text("You have signed your day as it is.").wait_for()
    signature, entry = DaySignature.objects.get(), DiaryEntry.objects.get(kind="delay")
    assert signature.by == cast.ines
    addresses = (
        day, f"{day}crew/new/", f"/diary/{entry.pk}/", f"/diary/{entry.pk}/correct/",
        f"/day-signatures/{signature.pk}/",
        f"/projects/{project.pk}/days/", "/today/",
    )  # fmt: skip
    for width, dark in ((390, False), (1280, True)):
        page = page_as(cast.ines, width=width, dark=dark)
        for address in addresses:
            page.goto(address)
            axe(page)
            assert page.evaluate("document.documentElement.scrollWidth") <= width, address
