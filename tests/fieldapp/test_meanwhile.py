"""What the office changed while the phone had no signal: each record ends as stated, and none is lost."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from inspection.fieldwork.models import ClimateRecord, ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.holdpoints import actions as holdpoints
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.instruments.actions import withdraw_certificate
from inspection.nonconformance.models import ReworkItem
from inspection.plan import lines, revisions
from inspection.projects.division import Part, divide_area
from inspection.projects.models import InspectionArea, Party
from inspection.projects.revisions import RevisedCoat, SystemSpec, as_it_is, issue_revision
from inspection.standing.models import Standing
from inspection.works.lots.actions import end_lot, restore_lot, withdraw_lot
from inspection.works.models import Crew, Lot, LotPlace
from tests.cast import Cast
from tests.fieldapp.test_forms_in_browser import fill, keep
from tests.fieldapp.test_thumb_in_browser import Hand, check_by_pad, laid, with_pack
from tests.plan.test_plans import agreed, draft

pytestmark = pytest.mark.browser


def lot_under_way(cast: Cast, number: int) -> Lot:
    site = cast.site
    party = Party.objects.get(project=site.project, kind=Party.Kind.INSPECTION)
    crew, _ = Crew.objects.get_or_create(project=site.project, party=party, name="Days")
    lot = Lot.objects.create(
        project=site.project, number=number, activity="coat", method="airless", coat=site.coats[0], crew=crew,
        begun_at=timezone.now() - timedelta(hours=5), entered_by=cast.ines, digest="0" * 64,
    )  # fmt: skip
    LotPlace.objects.create(lot=lot, area=site.area, m2=8)
    return lot


def kept(page: Page, hash_: str, count: int, **typed: str) -> None:
    """A form filled in and kept, so that so many wait."""
    page.evaluate("hash => { location.hash = hash; }", hash_)
    expect(page.get_by_role("button", name="Keep and send")).to_be_visible()
    for name, value in typed.items():
        fill(page, name, value)
    if "attendance" in hash_:
        page.locator('[data-field="attended"] select').select_option("yes")
    keep(page)
    expect(page.locator(".field-unsent")).to_contain_text(f"{count} unsent")


def changed_at_the_office(cast: Cast, closed: Lot, withdrawn: Lot) -> None:
    """Coating system and plan revised, an area divided, a lot ended and one withdrawn, a certificate withdrawn."""
    site, by = cast.site, cast.quinn
    coats = [
        RevisedCoat(replace(each.spec, minimum_nm=90_000, nominal_nm=100_000), each.carries_on)
        if each.spec.order == 1 else each
        for each in as_it_is(site.system)
    ]  # fmt: skip
    issue_revision(
        by, id=new_id(), system=site.system, applies_from=site.project.day_of(timezone.now()), coats=coats,
        reason="A thicker primer.", of_system=SystemSpec.of(site.system),
    )  # fmt: skip
    plan = HoldPoint.objects.filter(line__number="4.2")[0].line.revision.plan
    revision = revisions.begin_revision(by, plan=plan)
    lines.take_out(by, line=revision.lines.get(number="4.2"))
    agreed(cast, revision)
    halves = [Part("A2P", "Port", Decimal(30)), Part("A2S", "Starboard", Decimal(30))]
    divide_area(by, area=site.other_area, parts=halves, reason="Two crews.")
    end_lot(by, lot=closed, ended_at=timezone.now() - timedelta(hours=1))
    withdraw_lot(by, lot=withdrawn, reason="Entered twice")
    withdraw_certificate(by, certificate=cast.gauge_certificate, reason="The laboratory recalled it")


def test_each_record_of_what_was_revised_divided_closed_or_withdrawn_meanwhile_ends_as_stated(
    transactional_db: None, in_date: Cast, phone: Callable[..., Any], axe: Callable[[Any], None]
) -> None:
    cast, site = in_date, in_date.site
    laid(cast)
    InspectionArea.objects.filter(pk=site.area.pk).update(area_m2=8)
    closed, withdrawn = lot_under_way(cast, 1), lot_under_way(cast, 2)
    agreed(cast, draft(cast))
    holdpoints.apply_plan(cast.quinn, project=site.project, areas=[site.area, site.other_area])
    point = {
        (each.line.number if each.line else "", each.area.code): each
        for each in HoldPoint.objects.select_related("line", "area")
    }
    one = phone(cast.ines)
    page = with_pack(one, cast)
    hand = Hand(page)
    check_by_pad(hand)
    expect(page.locator(".field-unsent")).to_contain_text("1 unsent")
    hand.open("#/thickness")
    hand.tap("A1 Hatch")
    hand.tap("Begin")
    hand.pad(*["65"] * 15)
    hand.tap("End the measurement")
    expect(page.locator(".thumb-verdict")).to_have_text("Pass")
    hand.tap("Keep it, to be sent")
    expect(page.locator(".field-unsent")).to_contain_text("2 unsent")
    at_a2 = f"area={site.other_area.pk}/coat={site.coats[0].pk}"
    kept(page, f"#/form/climate/{at_a2}", 3, dry_bulb_c="20", wet_bulb_c="15", surface_c="18")
    kept(page, f"#/form/rework/{at_a2}", 4, what="runs", place="frame 12")
    for count, lot in enumerate((closed, withdrawn), start=5):
        kept(page, f"#/form/lot-end/lot={lot.pk}", count, drawn_l="12")
    for count, where in enumerate((("4.10", "A1"), ("4.2", "A1"), ("4.10", "A2")), start=7):
        kept(page, f"#/form/attendance/point={point[where].pk}", count)

    changed_at_the_office(cast, closed, withdrawn)
    one.offline(off=False)
    hand.open("#/send")
    one.app("(app) => app.queue.sendAll()")
    expect(page.locator(".field-unsent")).to_contain_text("4 unsent, just now, 4 need you", timeout=30_000)
    # What was measured and found is stored, with what became of its place, its limits and its instrument.
    differing = page.locator(".notice-warning", has_text="Thickness after Primer")
    expect(differing).to_contain_text("The phone said pass:")
    expect(differing).to_contain_text("The office says fail:")
    expect(differing).to_contain_text("The area mean is at least the specified minimum. (area 1) Limit 90 µm")
    stored = {words: page.locator("li", has_text=words).last for words in ("Thickness", "Climate", "Check of G-01")}
    revised = re.compile(r"System 1, revision 1, .* A thicker primer\. It is judged by that\.")
    withdrawal = "certificate CG-1 was withdrawn on"
    expect(stored["Thickness"]).to_contain_text(revised)
    expect(stored["Thickness"]).to_contain_text(re.compile(f"In question: .*{withdrawal}"))
    expect(stored["Climate"]).to_contain_text(revised)
    expect(stored["Climate"]).to_contain_text("Two crews. A2P, A2S took its place. The record is kept there all the")
    expect(stored["Check of G-01"]).to_contain_text(withdrawal)
    film = ThicknessRecord.objects.get()
    assert (film.coat.system.number, film.verdict, Standing.objects.get(record=film).state) == (
        1,
        "fail",
        "in_question",
    )
    assert (ClimateRecord.objects.get().area, ReworkItem.objects.get().area) == (site.other_area, site.other_area)
    # Of points and lots the office knows more by now: said with why, and kept on the phone until the person settles it.
    attended = Decision.objects.get(outcome=Decision.Outcome.ATTENDED)
    assert (attended.point, attended.person) == (point["4.10", "A1"], cast.ines)
    # The office takes it as of its coming; when it was stands in the note.
    assert re.fullmatch(r"Noted without a signal at \d{4}-\d\d-\d\d \d\d:\d\d\.", attended.reason)
    refused = page.locator("li[data-state=refused]")
    for words in (
        "Lot 1 ended at", "already; correct it if that is wrong.", "Lot 2 is withdrawn; bring it back first.",
        "Primer, A2 is not applicable any more since", "A2 was divided: Two crews.",
        "What this belongs to is not at the office any more, or is not yours to see.",
    ):  # fmt: skip
        expect(refused.filter(has_text=words)).to_have_count(1)
    # Each says which lot, which point.
    expect(refused.filter(has_text="Lot 1 ended")).to_contain_text("Lot 1: ")
    expect(refused.filter(has_text="Primer, A2 is not")).to_contain_text("A2: Primer")
    axe(page)
    # The withdrawn lot is brought back: it goes as it is. The others are set aside, which keeps them.
    restore_lot(cast.quinn, lot=withdrawn, reason="It was none twice")
    refused.filter(has_text="Lot 2").get_by_role("button", name="Try again as it is").click()
    expect(page.locator(".field-unsent")).to_contain_text("3 unsent")
    withdrawn.refresh_from_db()
    assert withdrawn.drawn_l == 12
    for left in (2, 1, 0):
        refused.first.get_by_text("Set it aside").first.click()
        refused.first.get_by_label("Why").fill("told by telephone")
        refused.first.get_by_role("button", name="Set it aside").click()
        expect(refused).to_have_count(left)
    one.all_sent()
    kept_aside = one.app(
        "async (app) => (await app.queue.receipts()).filter((row) => row.aside).map((row) => row.body)"
    )
    assert sorted(body.get("drawn_l", 0) for body in kept_aside) == [0, 0, 12]
