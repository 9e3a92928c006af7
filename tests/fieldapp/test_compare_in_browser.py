"""Instruments that read no thickness checked on the phone, offline and guided, as on their page."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from inspection.fieldwork.salts.models import SaltsRecord
from inspection.instruments import actions
from inspection.instruments.actions import StandardValue
from inspection.instruments.models import Certificate, Gauge, Verification
from tests.cast import Cast
from tests.fieldapp.conftest import picture
from tests.fieldapp.test_forms_in_browser import fill, keep
from tests.fieldapp.test_thumb_in_browser import Hand, with_pack

pytestmark = pytest.mark.browser


def laid(cast: Cast) -> None:
    """A conductivity meter with its solution, a detector with a voltmeter, and a climate meter that nobody held to
    anything, all in the inspector's hands and with papers."""
    today = timezone.now().date()

    def paper(number: str, **covers: Any) -> Certificate:
        return actions.record_certificate(
            cast.quinn, number=number, laboratory="Laboratory", traceable_to="the national institute",
            issued=today - timedelta(days=90), expires=today + timedelta(days=90), **covers,
        )  # fmt: skip

    meter = actions.register_gauge(cast.quinn, identity="CM-1", kind="salts", checked_on_site=True)
    detector = actions.register_gauge(cast.quinn, identity="HD-1", kind="holiday", checked_on_site=True)
    weather = actions.register_gauge(cast.quinn, identity="WM-1", kind="climate")
    paper("P-1", gauges=[meter, detector, weather])
    bottle = actions.register_standard(cast.quinn, identity="KCL-84", kind="solution", nominal=Decimal(84))
    voltmeter = actions.register_standard(cast.quinn, identity="VM-1", kind="instrument")
    actions.register_standard(cast.quinn, identity="TH-1", kind="instrument")
    value = StandardValue(bottle, value=Decimal(84), expanded_uncertainty=Decimal("0.8"))
    paper("P-2", values=[value, StandardValue(voltmeter)])
    Gauge.objects.update(holder=cast.ines)
    Gauge.objects.filter(checked_since__isnull=False).update(checked_since=timezone.now() - timedelta(days=1))


def test_a_meter_on_its_solution_and_a_detector_beside_a_voltmeter_are_checked_offline(
    transactional_db: None, in_date: Cast, phone: Callable[..., Any], axe: Callable[[Any], None]
) -> None:
    laid(in_date)
    one = phone(in_date.ines)
    page = with_pack(one, in_date)
    hand = Hand(page)
    hand.open("#/check")
    expect(page.get_by_text("Conductivity meter. No check known here")).to_be_visible()
    axe(page)

    # On the one solution there is, within 5 % of 84 µS/cm: 4.2 (common practice, no source).
    page.get_by_role("link", name="CM-1").click()
    expect(page.get_by_text("Held to ± 5 % of the reference.")).to_be_visible()
    expect(page.get_by_text("Rinse the cell with a little of the solution")).to_be_visible()
    expect(page.get_by_label("KCL-84, 84 µS/cm")).to_be_checked()
    page.get_by_label("Readings at each point").fill("2")
    axe(page)
    hand.tap("Begin the readings")
    hand.pad("841⏎")
    expect(page.locator(".thumb-question")).to_contain_text("841: did you mean")
    hand.tap("84.1?")
    assert "84.1" in str(one.app("(app) => app.store.all('drafts')"))
    one.kill()
    one.start()
    page = one.open("#/check")
    page.get_by_role("link", name="CM-1").click()
    expect(page.locator(".thumb-read")).to_have_text("84.1  ·")
    hand = Hand(page)
    hand.pad("83.6⏎")
    expect(page.locator(".thumb-verdict")).to_have_text("Within the tolerance at every point")
    line = "KCL-84, 84 µS/cm: mean 83.85, error −0.15, allowed ±4.2 µS/cm: within."
    expect(page.get_by_text(line)).to_be_visible()
    page.get_by_label("Note").fill("Solution at 21 °C")
    axe(page)
    hand.tap("Keep the check, to be sent")
    expect(page.locator(".field-unsent")).to_contain_text("1 unsent")

    # A record names its minute, the check its second.
    one.app(
        "async (app, at) => app.prefs.set('own-checks', [{...(await app.prefs.get('own-checks'))[0], taken_at: at}])",
        (timezone.now() - timedelta(minutes=5)).isoformat(),
    )
    # What is measured with it asks for the check after work.
    page.evaluate("(at) => { location.hash = at; }", f"#/form/salts/area={in_date.site.area.pk}")
    gauge = Gauge.objects.get(identity="CM-1")
    for name, typed in {"conductivity_unit": "us_cm", "blank": "3", "volume_ml": "3", "patch_cm2": "12.5",
                        "reference_c": "25", "salt": "nacl", "gauge": str(gauge.pk)}.items():  # fmt: skip
        fill(page, name, typed)
    fill(page, "conductivity", "30", row=1, of="patches")
    keep(page)
    expect(page.locator(".field-unsent")).to_contain_text("2 unsent")
    hand.open("#/")
    expect(page.get_by_text("CM-1: check it after work, as found")).to_be_visible()

    # Beside a voltmeter, what it shows first; the caution stands before and during.
    hand.open("#/check")
    page.get_by_role("link", name="HD-1").click()
    expect(page.get_by_text("High voltage can kill.")).to_be_visible()
    hand.tap("Begin the readings")
    expect(page.get_by_text("Choose the reference instrument.")).to_be_visible()
    page.get_by_label("VM-1").check()
    hand.tap("Begin the readings")
    expect(page.get_by_text("High voltage can kill.")).to_be_visible()
    expect(page.get_by_text("What does VM-1 show? Type it, then Enter.")).to_be_visible()
    hand.pad("9500⏎", "9600⏎")
    hand.tap("Another point")
    page.evaluate("() => scrollTo(0, 0)")
    picture(page, "compare")
    hand.pad("3000⏎", "3200⏎")
    expect(page.locator(".thumb-verdict")).to_have_text("Outside the tolerance")
    hand.tap("Keep the check, to be sent")
    expect(page.locator("#said")).to_contain_text("The check fails")

    # Nobody has said what a climate meter is held to: told before anything is typed.
    hand.open("#/check")
    page.get_by_role("link", name="WM-1").click()
    expect(page.get_by_text("WM-1: nobody has said within what it is to agree")).to_be_visible()
    expect(page.get_by_role("button", name="Begin the readings")).to_have_count(0)

    one.offline(off=False)
    one.app("(app) => app.queue.sendAll()")
    one.all_sent()
    told = {
        check.gauge.identity: (
            check.verdict, check.purpose, check.as_left,
            [(point.reference, [float(each) for each in point.readings]) for point in check.points.order_by("order")],
        )
        for check in Verification.objects.select_related("gauge")
    }  # fmt: skip
    assert told == {
        "CM-1": ("pass", "opening", True, [(Decimal(84), [84.1, 83.6])]),
        "HD-1": ("fail", "opening", True, [(Decimal(9500), [9600.0]), (Decimal(3000), [3200.0])]),
    }
    assert Verification.objects.get(gauge=gauge).note == "Solution at 21 °C"
    receipts = one.app("(app) => app.queue.receipts()")
    judged = {
        row["words"]["title"]: (row["told"] or {}).get("verdict")
        for row in receipts
        if "Check" in row["words"]["title"]
    }
    assert judged == {"Check of CM-1": "pass", "Check of HD-1": "fail"}
    assert not any(row["differs"] for row in receipts)
    assert SaltsRecord.objects.get().gauge == gauge
