"""The shell of the field app: what the server gives, and that everything typed and queued outlives what can happen."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

import pytest
from allauth.usersessions.models import UserSession
from django.contrib.sessions.models import Session
from playwright.sync_api import expect

from accounts.sessions import end_session
from inspection.fieldapp import files
from inspection.fieldwork.models import ClimateRecord
from inspection.instruments.models import Verification
from inspection.photos.models import Photo
from inspection.projects.actions import end_membership
from inspection.projects.breakdown import retire_area
from inspection.projects.models import Membership
from tests.cast import Cast
from tests.fieldapp.conftest import ADD, climate_item
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


WITH_PHOTO = """async (app, record) => {
    const { newId } = await import('/static/field/ids.js');
    const canvas = new OffscreenCanvas(64, 48);
    canvas.getContext('2d').fillRect(0, 0, 30, 30);
    const blob = await canvas.convertToBlob({type: 'image/jpeg'});
    const digest = Array.from(new Uint8Array(await crypto.subtle.digest('SHA-256', await blob.arrayBuffer())),
        (byte) => byte.toString(16).padStart(2, '0')).join('');
    await app.store.put('photos', {digest, blob});
    const id = newId();
    const body = {id, of: 'record', thing: record, caption: 'Weld 3', file: {$photo: digest}};
    await app.queue.add([{id, address: '/api/photos/', body, photos: [digest], needs: [record],
        words: {title: 'Photo', place: 'A1'}}]);
    return id;
}"""


def test_over_a_link_that_drops_every_third_request_each_record_arrives_once_whole_and_in_order(
    transactional_db: None, cast: Cast, phone: Callable[..., Any]
) -> None:
    one = phone(cast.ines)
    page = one.open("#/send")
    one.offline()
    items = [climate_item(cast, minute) for minute in range(12)]
    # The second follows the first. What the phone judged otherwise than the office is told of.
    items[1]["needs"] = [items[0]["id"]]
    items[2]["told"] = {"verdict": "fail", "why": "Surface 1 °C above the dew point"}
    items[3]["told"] = {"verdict": "pass", "why": ""}
    one.app(ADD, items)
    photo = one.app(WITH_PHOTO, items[0]["id"])
    expect(page.locator(".field-unsent")).to_contain_text("13 unsent, just now")
    one.kill()
    one.start()
    page = one.open("#/send")
    expect(page.locator(".field-unsent")).to_contain_text("13 unsent")
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
            # Dropped; or not the office's own word; or the office is busy, or away.
            way = len(posts) // 3 % 4
            if way == 1:
                route.fulfill(status=200, content_type="text/html", body="<h1>Welcome to the hotel's network</h1>")
            elif way == 2:
                problem = {"status": 429, "detail": "Too many requests"}
                route.fulfill(status=429, json=problem, headers={"Retry-After": "1"})
            elif way == 3:
                route.fulfill(status=503, content_type="text/html", body="away")
            else:
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
    digests = {row["id"]: row["digest"] for row in receipts}
    verdict = stored[2].verdict
    assert verdict != "fail"
    # A photo leaves the phone once the office has named its digest.
    assert digests.pop(photo) == Photo.objects.get(record=wanted[0]).file_id
    assert one.app("(app) => app.store.count('photos')") == 0
    assert digests == {str(record.pk): record.digest for record in stored}
    differing = page.locator(".notice-warning", has_text="Climate 2, A1")
    expect(differing).to_contain_text("The phone said fail:Surface 1 °C above the dew point")
    expect(differing).to_contain_text(f"The office says {verdict}:")
    assert [row["id"] for row in receipts if row["differs"]] == [
        wanted[place] for place in (2, 3) if verdict != "pass" or place == 2
    ]


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


# The phone, or the page, comes to the front again.
WOKEN = "document.dispatchEvent(new Event('visibilitychange'))"


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
    # Somebody else signed in on the site, and the office cannot be heard: the work of the one before is not shown.
    given = {"name": "field_person", "value": str(cast.igor.pk), "url": one.address}
    one.context.add_cookies([given])
    one.offline()
    # A page that stayed open is no way round it.
    page.evaluate(WOKEN)
    expect(page.get_by_text("Nobody is signed in on this phone, and the office cannot be reached.")).to_be_visible()
    one.open(ready=False)
    expect(page.get_by_text("Nobody is signed in on this phone, and the office cannot be reached.")).to_be_visible()
    one.offline(False)
    one.context.clear_cookies(name="field_person")
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
    left_open = one.tab("#/phone")
    expect(left_open.locator(".facts")).to_contain_text("Ines Inspector")
    page.goto("/me/")
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/**")
    left_open.evaluate(WOKEN)
    expect(left_open.get_by_text("What is kept on this phone for you is still here.")).to_be_visible()
    expect(left_open.locator("body")).not_to_contain_text("Ines Inspector")
    one.offline()
    one.open(ready=False)
    expect(page.get_by_text("Nobody is signed in on this phone")).to_be_visible()


def test_a_phone_whose_sign_in_its_owner_ended_from_elsewhere_shows_nothing_more_and_loses_nothing(
    transactional_db: None, cast: Cast, phone: Callable[..., Any]
) -> None:
    one = phone(cast.ines)
    page = one.open("#/send")
    one.offline()
    one.app(ADD, [climate_item(cast, 1)])
    expect(page.locator("body")).to_contain_text("Climate 1")
    noted = UserSession.objects.create(user=cast.ines, session_key=one.session, ip="127.0.0.1")
    end_session(cast.ines, pk=noted.pk)
    # Without a signal it cannot know; the first word of the office locks it, by itself.
    page.reload()
    expect(page.locator("body")).to_contain_text("Climate 1")
    one.offline(False)
    expect(page.get_by_text("What is kept on this phone for you is still here.")).to_be_visible()
    expect(page.locator("body")).not_to_contain_text("Climate 1")
    one.offline()
    one.open(ready=False)
    expect(page.get_by_text("What is kept here is locked")).to_be_visible()
    # Found again: its owner signs in, and all of it is there and goes.
    one.offline(False)
    one.sign_in(cast.ines)
    page.reload()
    one.all_sent()
    assert ClimateRecord.objects.count() == 1


def test_two_phones_on_one_area_one_that_was_retired_and_a_person_who_left_the_project_meanwhile_lose_nothing(
    transactional_db: None, in_date: Cast, phone: Callable[..., Any]
) -> None:
    cast = in_date
    one, two = phone(cast.ines), phone(cast.quinn)
    page = one.open("#/send")
    two.open("#/send")
    one.offline()
    two.offline()
    on_retired = climate_item(cast, 1, area=str(cast.site.other_area.pk), taken_at=now_less(30))
    one.app(ADD, [climate_item(cast, 2, taken_at=now_less(20)), on_retired])
    # Two phones on one area.
    two.app(ADD, [climate_item(cast, 3, taken_at=now_less(20))])
    retire_area(cast.quinn, area=cast.site.other_area, reason="Not built")
    one.offline(False)
    two.offline(False)
    one.app("(app) => app.queue.sendAll()")
    two.all_sent()
    one.all_sent()
    # Evidence is kept: with a warning of the area, and of both phones.
    expect(page.get_by_text("A2 was retired on")).to_contain_text("Not built. The record is kept there all the same.")
    assert ClimateRecord.objects.filter(area=cast.site.area).count() == 2
    assert str(ClimateRecord.objects.get(area=cast.site.other_area).pk) == on_retired["id"]
    # The person left the project.
    one.offline()
    one.app(ADD, [climate_item(cast, 4, taken_at=now_less(10))])
    end_membership(cast.quinn, membership=Membership.objects.get(person=cast.ines))
    one.offline(False)
    one.app("(app) => app.queue.sendAll()")
    refused = page.locator("li[data-state=refused]")
    expect(refused).to_contain_text("project: There is no such project, or it is not yours to see.")
    # Let in again, it goes as it is.
    cast.site.project.memberships.create(person=cast.ines, organisation=cast.company, role="inspector")
    refused.get_by_role("button", name="Try again as it is").click()
    one.all_sent()
    assert ClimateRecord.objects.count() == 4


def now_less(minutes: int) -> str:
    return (datetime.now(UTC) - timedelta(minutes=minutes)).isoformat()
