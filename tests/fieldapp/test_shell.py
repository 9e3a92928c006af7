"""The shell of the field app: what the server gives, and that everything typed and queued outlives what can happen."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any
from uuid import UUID

import pytest
from django.contrib.sessions.models import Session
from playwright.sync_api import expect

from inspection.fieldapp import files
from inspection.fieldwork.models import ClimateRecord
from inspection.instruments.models import Verification
from tests.cast import Cast
from tests.fieldapp.conftest import climate_item
from tests.instruments.test_slips import sent as check_sent

pytestmark = pytest.mark.browser


def test_the_app_opens_without_a_network_and_keeps_a_draft_at_each_key(
    transactional_db: None, cast: Cast, phone: Callable[..., Any], axe: Callable[[Any], None]
) -> None:
    one = phone(cast.ines)
    page = one.open("#/send")
    expect(page.locator("html")).to_have_attribute("data-version", files.app().version)
    axe(page)
    one.offline()
    one.open("#/phone")
    axe(page)
    for key in "84.5":
        one.app(
            """async (app, key) => {
                const { openDraft } = await import('/static/field/drafts.js');
                const draft = await openDraft(app, {screen: 'thickness', args: ['A1']});
                await draft.set('readings.0.value', (draft.values.readings?.[0]?.value ?? '') + key);
            }""",
            key,
        )
        one.kill()
        one.start()
        one.open()
    told = one.app("(app) => app.store.all('drafts')")
    assert [(row["screen"], row["values"]) for row in told] == [("thickness", {"readings": [{"value": "84.5"}]})]


ADD = "(app, items) => app.queue.add(items)"


def test_over_a_link_that_drops_every_third_request_each_record_arrives_once_whole_and_in_order(
    transactional_db: None, cast: Cast, phone: Callable[..., Any]
) -> None:
    one = phone(cast.ines)
    page = one.open("#/send")
    one.offline()
    items = [climate_item(cast, minute) for minute in range(12)]
    # The second follows the first; the last answers with what the phone judged otherwise.
    items[1]["needs"] = [items[0]["id"]]
    one.app(ADD, items)
    expect(page.locator(".field-unsent")).to_contain_text("12 unsent, just now")
    one.kill()
    one.start()
    page = one.open("#/send")
    expect(page.locator(".field-unsent")).to_contain_text("12 unsent")
    posts: list[str] = []

    def bad_link(route: Any) -> None:
        if route.request.method != "POST":
            route.continue_()
            return
        posts.append(route.request.post_data_json["id"])
        if len(posts) == 2:
            # Stored at the office, and its answer lost.
            route.fetch()
            route.abort()
        elif len(posts) % 3 == 0:
            route.abort()
        else:
            route.continue_()

    page.route("**/api/climate/", bad_link)
    one.offline(False)
    one.app("(app) => { app.queue.pace = 0.02; app.queue.sendSoon(); }")
    one.all_sent()
    wanted = [item["id"] for item in items]
    stored = list(ClimateRecord.objects.order_by("received_at"))
    assert [str(record.pk) for record in stored] == wanted
    assert len(posts) > len(wanted)
    assert list(dict.fromkeys(posts)) == wanted
    receipts = one.app("(app) => app.queue.receipts()")
    assert {row["id"]: row["digest"] for row in receipts} == {str(record.pk): record.digest for record in stored}


def test_what_the_office_refuses_or_asks_is_kept_with_its_sentences_until_the_person_settles_it(
    transactional_db: None, cast: Cast, in_date: Cast, phone: Callable[..., Any], axe: Callable[[Any], None]
) -> None:
    one = phone(cast.ines)
    page = one.open("#/send")
    newer = climate_item(cast, 1, glow_point_c=4)
    follows = {**climate_item(cast, 2), "needs": [newer["id"]]}
    free = {**climate_item(cast, 3), "told": {"verdict": "in question", "why": "the phone's own"}}
    body = check_sent(cast, {50: [50.1, 50.3, 49.9], 125: [1249, 125.6, 125.4], 250: [249.8, 250.0, 249.6]})
    words = {"title": "Check of G-01", "place": ""}
    check = {"id": body["id"], "address": "/api/verifications/", "body": body, "words": words}
    draft = {"screen": "phone", "args": ["x"], "values": {"glow_point_c": 4}}
    one.app(ADD, [{**newer, "draft": draft}, follows, free, check])
    expect(page.locator(".field-unsent")).to_contain_text("3 unsent, just now, 2 need you", timeout=30_000)
    # An app newer than the office: the field is named, and what follows waits.
    refused = page.locator("li[data-state=refused]")
    expect(refused).to_contain_text("glow point c: There is no such field; this takes")
    asked = page.locator("li[data-state=asked]")
    expect(asked).to_contain_text("row 2: Reading 1, 1249.0 µm, is about ten times the 125.4 µm of S-125")
    assert set(ClimateRecord.objects.values_list("pk", flat=True).iterator()) == {UUID(free["id"])}
    axe(page)
    asked.get_by_role("button", name="It is right: send it").click()
    expect(page.locator(".field-unsent")).to_contain_text("2 unsent")
    assert Verification.objects.get(pk=check["id"]).confirmed
    # Set aside, with the reason; what needs it says so; both are put back.
    refused.get_by_text("Set it aside").first.click()
    refused.get_by_label("Why").fill("for a newer office")
    refused.get_by_role("button", name="Set it aside").click()
    expect(refused).to_contain_text("It follows “Climate 1”, which was set aside: for a newer office")
    page.get_by_role("button", name="Put it back").click()
    expect(page.locator("li[data-state=refused]", has_text="glow point")).to_be_visible()
    # Opened again as a draft with what was wrong and its id; corrected, it goes, and what followed it too.
    page.locator("li", has_text="glow point").get_by_role("button", name="Open it to correct").click()
    expect(page).to_have_url(re.compile("#/phone/x$"))
    kept = one.app(
        """async (app) => {
            const { openDraft } = await import('/static/field/drafts.js');
            const draft = await openDraft(app, {screen: 'phone', args: ['x']});
            return [draft.values, draft.faults.map((fault) => fault.field), draft.item];
        }"""
    )
    assert kept == [{"glow_point_c": 4}, ["glow_point_c"], newer["id"]]
    good = {name: value for name, value in newer["body"].items() if name != "glow_point_c"}
    one.app(
        """async (app, item) => {
            const { openDraft } = await import('/static/field/drafts.js');
            const draft = await openDraft(app, {screen: 'phone', args: ['x']});
            await draft.toQueue([item]);
            for (const row of await app.queue.list()) if (row.state === 'refused') await app.queue.retry(row.id);
        }""",
        {**newer, "body": good},
    )
    one.all_sent()
    assert ClimateRecord.objects.count() == 3
    assert one.app("(app) => app.store.count('drafts')") == 0


def test_a_sign_in_that_is_lost_or_another_persons_sends_nothing_and_loses_nothing(
    transactional_db: None, cast: Cast, phone: Callable[..., Any]
) -> None:
    one = phone(cast.ines)
    page = one.open("#/send")
    one.sign_in(None)
    item = climate_item(cast, 1)
    one.app(ADD, [item])
    expect(page.get_by_text("The sign-in has ended. Go on working; sign in to send.")).to_be_visible()
    # Somebody else signs in on the same phone while the page is open.
    one.sign_in(cast.igor)
    page.get_by_role("button", name="Send now").click()
    expect(page.get_by_text("Somebody else is signed in on this phone now.")).to_be_visible()
    page.get_by_role("button", name="Open as the other person").click()
    one.all_sent()
    expect(page.locator("body")).not_to_contain_text("Climate 1")
    one.open("#/phone")
    expect(page.locator(".facts")).to_contain_text("Igor Inspector")
    expect(page.locator("body")).not_to_contain_text("Ines")
    # Another signs in between the office's word and the record: the key of the first is worth nothing.
    posts: list[int] = []
    one.sign_in(cast.ines)
    page.reload()
    page.route("**/api/climate/", lambda route: (one.sign_in(cast.igor), posts.append(1), route.continue_()))
    expect(page.locator(".field-unsent")).to_contain_text("1 unsent")
    one.app("(app) => app.queue.sendAll()")
    expect(page.get_by_text("Somebody else is signed in on this phone now.")).to_be_visible()
    page.unroute("**/api/climate/")
    assert posts
    assert not ClimateRecord.objects.exists()
    # Signing out on purpose locks, also without a signal; the office hears of it before anything is shown again.
    one.sign_in(cast.ines)
    page.reload()
    one.all_sent()
    assert str(ClimateRecord.objects.get().taken_by_id) == str(cast.ines.pk)
    one.offline()
    one.app(ADD, [climate_item(cast, 2)])
    one.open("#/phone")
    page.get_by_role("button", name="Sign out and lock").click()
    expect(page.get_by_text("Nobody is signed in on this phone, and the office cannot be reached.")).to_be_visible()
    one.kill()
    one.start()
    page = one.open(ready=False)
    expect(page.get_by_text("What is kept here is locked")).to_be_visible()
    session = one.session
    assert Session.objects.filter(session_key=session).exists()
    one.offline(False)
    page.reload()
    expect(page.get_by_text("Sign in to go on. What is kept on this phone for you is still here.")).to_be_visible()
    assert not Session.objects.filter(session_key=session).exists()
    one.sign_in(cast.ines)
    page.reload()
    one.all_sent()
    assert ClimateRecord.objects.count() == 2
    # On the site's own page, which works without scripts, it locks as well; a session that merely ended does not.
    page.goto("/me/")
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/**")
    one.offline()
    one.open(ready=False)
    expect(page.get_by_text("Nobody is signed in on this phone")).to_be_visible()
