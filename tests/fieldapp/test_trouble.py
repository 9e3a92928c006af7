"""The field app in trouble: two tabs, a new version, wrong clocks, hundreds waiting, a full phone, no way to send."""

from __future__ import annotations

import hashlib
import json
import resource
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from inspection.fieldapp import files
from inspection.fieldwork.models import ClimateRecord
from inspection.foundation.ids import new_id
from tests.cast import Cast
from tests.fieldapp.conftest import ADD, Phone, climate_item

pytestmark = pytest.mark.browser


def test_two_tabs_send_once_and_a_new_version_waits_for_the_person_and_keeps_everything(
    transactional_db: None, cast: Cast, phone: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    one = phone(cast.ines)
    page = one.open("#/send")
    other = one.tab("#/send")
    one.offline()
    one.app(ADD, [climate_item(cast, minute) for minute in range(8)])
    expect(other.locator(".field-unsent")).to_contain_text("8 unsent")
    posts: list[str] = []
    one.context.on("request", lambda request: request.method == "POST" and posts.append(request.post_data_json["id"]))
    one.offline(False)
    for tab in (page, other):
        tab.get_by_role("button", name="Send now").click()
    one.all_sent()
    expect(other.locator(".field-unsent")).to_have_text("All sent")
    assert len(posts) == len(set(posts)) == ClimateRecord.objects.count() == 8
    # A browser without locks over tabs keeps a lease in the store instead.
    for tab in (page, other):
        tab.evaluate("Object.defineProperty(Navigator.prototype, 'locks', {get: () => undefined})")
    one.offline()
    one.app(ADD, [climate_item(cast, minute) for minute in range(20, 26)])
    one.offline(False)
    posts.clear()
    for tab in (page, other):
        tab.get_by_role("button", name="Send now").click()
    one.all_sent()
    assert len(posts) == len(set(posts)) == 6
    # Kept at the office under another id: what follows it names it by that one.
    first, follows = climate_item(cast, 30), climate_item(cast, 31)
    follows["needs"], follows["body"]["note"] = [first["id"]], first["id"]
    told = {"id": str(new_id()), "digest": "0" * 64}
    page.route("**/api/climate/", lambda route: route.fulfill(status=201, json=told), times=1)
    one.app(ADD, [first, follows])
    one.all_sent()
    assert ClimateRecord.objects.get(pk=follows["id"]).note == told["id"]
    # A pause that a dropped link began ends when the person says so.
    one.app("(app) => { app.queue.pace = 1000; }")
    page.route("**/api/climate/", lambda route: route.abort(), times=1)
    one.app(ADD, [climate_item(cast, 40)])
    expect(page.get_by_text("Tried once.")).to_be_visible()
    page.get_by_role("button", name="Send now").click()
    one.all_sent()
    # A new version lies at the office: what is unsent and what is typed stays, through it and the tap.
    before, real = files.app().version, files.page
    monkeypatch.setattr(files, "page", lambda *, version: real(version=version) + "<!-- later -->")
    monkeypatch.setattr(files, "_made", {})
    after = files.app().version
    assert after != before
    page.evaluate("navigator.serviceWorker.getRegistration().then((one) => one.update())")
    expect(page.get_by_text("A new version of the app lies ready.")).to_be_visible()
    one.offline()
    one.app(ADD, [climate_item(cast, 9)])
    one.app(
        """async (app) => {
            const { openDraft } = await import('/static/field/drafts.js');
            await (await openDraft(app, {screen: 'thickness', args: ['A1']})).set('value', '84');
        }"""
    )
    # Opened anew it is still the version before: nobody has said to take the new one.
    page.reload()
    expect(page.locator("html")).to_have_attribute("data-version", before)
    page.get_by_role("button", name="Use the new version").click()
    expect(page.locator("html")).to_have_attribute("data-version", after)
    expect(page.locator(".field-unsent")).to_contain_text("1 unsent")
    assert one.app("async (app) => (await app.store.all('drafts'))[0].values") == {"value": "84"}
    expect(other.get_by_text("A new version of the app was taken in another tab.")).to_be_visible()
    # A later version brings the phone's database to a further form; the older tab lets go of it and says so.
    told = other.evaluate(
        """async (name) => {
            const { openStore, STEPS } = await import('/static/field/store.js');
            const steps = [...STEPS, (db) => db.createObjectStore('later', {keyPath: 'id'})];
            const store = await openStore(name, {steps});
            return [await store.count('queue'), await store.count('bodies'), await store.count('later')];
        }""",
        str(cast.ines.pk),
    )
    assert told == [1, 1, 0]
    expect(page.get_by_text("A newer version of the app is open in another tab.")).to_be_visible()


CLOCK = """(() => {
    const Real = Date;
    const by = () => Number(localStorage.getItem('clock') || 0);
    globalThis.Date = class extends Real {
        constructor(...told) { super(...(told.length ? told : [Real.now() + by()])); }
        static now() { return Real.now() + by(); }
    };
})()"""


def test_a_clock_that_is_wrong_is_corrected_told_of_or_asked_about(
    transactional_db: None, cast: Cast, phone: Callable[..., Any]
) -> None:
    one = phone(cast.ines)
    one.context.add_init_script(CLOCK)
    hour, year = 3_600_000, 365 * 86_400_000
    page = one.open("#/send")
    page.evaluate(f"localStorage.setItem('clock', {hour})")
    page.reload()
    # An hour ahead while the office is heard: corrected, and said.
    expect(page.get_by_text("The phone's clock is 60 min ahead of the office's. Times are corrected.")).to_be_visible()
    told = one.app("async () => (await import('/static/field/ids.js')).now().toISOString()")
    assert abs(datetime.fromisoformat(told) - datetime.now(UTC)) < timedelta(seconds=20)
    # Set a year ahead while the app is shut and nobody is heard: asked before it is sent, and moved.
    one.offline()
    page.evaluate(f"localStorage.setItem('clock', {hour + year})")
    page.reload()
    items = [climate_item(cast, minute) for minute in range(3)]
    for item in items:
        item["body"]["taken_at"] = (datetime.now(UTC) + timedelta(milliseconds=year)).isoformat()
    one.app(ADD, items[:2])
    one.offline(False)
    one.app("(app) => app.queue.sendAll()")
    asked = page.locator("li[data-state=asked]")
    expect(asked).to_have_count(2)
    expect(asked.first).to_contain_text("By the office's clock now its times lie 365 days wrong.")
    asked.first.get_by_role("button", name="Move its times back by 365 days").click()
    expect(asked).to_have_count(1)
    # The office takes no time that lies in the future: the other one is refused with its sentence, and kept.
    asked.get_by_role("button", name="Its times are right").click()
    expect(page.locator("li[data-state=refused]")).to_contain_text("future")
    stored = ClimateRecord.objects.get(pk=items[0]["id"])
    assert abs(stored.taken_at - datetime.now(UTC)) < timedelta(minutes=1)
    assert "The phone's clock said" in stored.note
    # Set back behind what it showed: nothing tells by how much, so the record says what the phone said.
    one.offline()
    page.evaluate(f"localStorage.setItem('clock', {-hour})")
    page.reload()
    expect(page.get_by_text("The phone's clock was set back since the office was last heard.")).to_be_visible()
    one.app(ADD, items[2:])
    note = one.app("async (app, id) => (await app.queue.body(id)).note", items[2]["id"])
    assert "it was not held against the server's then" in note


MANY = """async (app, [items, photos, bytes]) => {
    const chance = new Uint8Array(bytes);
    const hex = (buffer) => Array.from(new Uint8Array(buffer), (one) => one.toString(16).padStart(2, '0')).join('');
    const { newId } = await import('/static/field/ids.js');
    const ofPhotos = [];
    for (let number = 0; number < photos; number += 1) {
        chance[number % bytes] = number % 256; chance[0] = number >> 8;
        const digest = hex(await crypto.subtle.digest('SHA-256', chance));
        await app.store.put('photos', {digest, blob: new Blob([chance], {type: 'image/jpeg'})});
        ofPhotos.push({address: '/api/photos/', body: {id: newId(), file: {$photo: digest}},
            words: {title: `Photo ${number}`, place: 'A1'}, photos: [digest]});
    }
    await app.queue.add([...items, ...ofPhotos]);
}"""
# The longest stretch of work (Long Tasks, W3C) since it was asked last.
LONG_TASKS = """globalThis.longest = 0;
    new PerformanceObserver((list) => {
        for (const task of list.getEntries()) globalThis.longest = Math.max(globalThis.longest, task.duration);
    }).observe({entryTypes: ['longtask']});"""
# An office that answers at once, so that what is measured is the phone; it reads what it is sent, as a network does.
AT_ONCE = """() => {
    const real = globalThis.fetch;
    const json = (content, status) =>
        new Response(JSON.stringify(content), {status, headers: {'Content-Type': 'application/json'}});
    globalThis.parts = 0;
    globalThis.fetch = async (address, how) => {
        if (how?.body instanceof Blob) {
            const { byteLength } = await how.body.arrayBuffer();
            globalThis.parts += 1;
            return json({came: Number(new URL(address, location).searchParams.get('from')) + byteLength}, 200);
        }
        if (String(address).includes('/parts/')) return json({came: 0}, 200);
        if (how?.method !== 'POST') return real(address, how);
        const id = how.body instanceof FormData ? how.body.get('id') : JSON.parse(how.body).id;
        return json({id, digest: '0'.repeat(64)}, 201);
    };
}"""
PHOTO_BYTES = 300_000


def resident_mb(one: Phone) -> float:
    """What the pages of the phone's browser hold in memory, as the system counts it, in MB."""
    pages = 0
    for place in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            told = (place / "cmdline").read_bytes().decode(errors="replace")
            if f"--user-data-dir={one.profile}" in told and "--type=renderer" in told:
                pages += int((place / "statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1e6


def test_five_hundred_records_and_three_hundred_photos_freeze_nothing_and_hold_no_memory(
    transactional_db: None, cast: Cast, phone: Callable[..., Any]
) -> None:
    one = phone(cast.ines)
    one.context.add_init_script(LONG_TASKS)
    page = one.open("#/packs")
    page.get_by_role("button", name="Take it along").click()
    expect(page.locator("#said")).to_contain_text("Taken along", timeout=30_000)
    devtools = one.context.new_cdp_session(page)
    one.offline()

    def heap() -> float:
        devtools.send("HeapProfiler.collectGarbage")
        return float(devtools.send("Runtime.getHeapUsage")["usedSize"]) / 1e6

    # The watch sees what it is to see.
    page.evaluate("setTimeout(() => { const end = Date.now() + 150; while (Date.now() < end); })")
    page.wait_for_function("globalThis.longest >= 140")
    page.evaluate("globalThis.longest = 0; location.hash = '#/send'")
    one.app(MANY, [[climate_item(cast, minute) for minute in range(500)], 300, PHOTO_BYTES])
    expect(page.locator(".field-unsent")).to_contain_text("800 unsent")
    expect(page.get_by_text("And 740 more, which are sent in their turn.")).to_be_visible()
    # Work goes on with all of that waiting.
    page.evaluate("hash => { location.hash = hash; }", f"#/form/climate/area={cast.site.area.pk}")
    for name in ("dry_bulb_c", "wet_bulb_c", "surface_c"):
        page.locator(f'[data-field="{name}"] input').press_sequentially("12.5")
    page.get_by_role("link", name="800 unsent").click()
    expect(page.get_by_text("And 740 more")).to_be_visible()
    full, held = heap(), resident_mb(one)
    page.evaluate(AT_ONCE)
    one.offline(off=False)
    one.app("(app) => void app.queue.sendSoon()")
    heaps, resident = [], []
    while one.app("(app) => app.store.count('queue')"):
        heaps.append(heap())
        resident.append(resident_mb(one))
        page.wait_for_timeout(500)
    one.all_sent()
    longest = page.evaluate("globalThis.longest")
    assert page.evaluate("globalThis.parts") == 600
    # A receipt that names another digest than the photo's frees no room: it stays.
    assert one.app("(app) => app.store.count('photos')") == 300
    print(
        f"longest {longest:.0f} ms, heap {full:.1f} to {max(heaps):.1f} MB, pages {held:.0f} to {max(resident):.0f} MB"
    )
    assert len(heaps) > 3
    assert max(heaps) < full + 10
    # All photos together are 90 MB.
    assert max(resident) < held + 60
    assert longest <= 200


def test_on_a_full_phone_what_is_typed_stays_on_the_screen_with_a_sentence(
    transactional_db: None, cast: Cast, phone: Callable[..., Any]
) -> None:
    small = phone(cast.ines)
    small.page.goto("/sign-in/")
    devtools = small.context.new_cdp_session(small.page)
    devtools.send("Storage.overrideQuotaForOrigin", {"origin": small.address, "quotaSize": 2_000_000})
    small.open()
    told = small.app(
        """async (app) => {
            const { openDraft } = await import('/static/field/drafts.js');
            const draft = await openDraft(app, {screen: 'thickness', args: ['A1']});
            // By chance, as what repeats itself is kept in little room.
            const letter = () => String.fromCharCode(0x4e00 + Math.random() * 20_000);
            const text = Array.from({length: 2_000_000}, letter).join('');
            try {
                await draft.set('text', text);
            } catch (error) {
                app.failed(error);
                return [error.name, error.message, draft.values.text === text];
            }
            return 'kept';
        }"""
    )
    assert told[0] == "StorageFull"
    assert "It stays on the screen: make room" in told[1]
    assert told[2]
    expect(small.page.get_by_text("It stays on the screen: make room")).to_be_visible()


def test_what_waits_is_saved_to_a_file_and_sent_from_another_machine_by_whoever_is_signed_in(
    transactional_db: None, cast: Cast, phone: Callable[..., Any], tmp_path: Path, axe: Callable[[Any], None]
) -> None:
    lost, office = phone(cast.ines), phone(cast.quinn, width=844, height=390, dark=True)
    page = lost.open("#/send")
    lost.offline()
    items = [climate_item(cast, minute) for minute in range(3)]
    # Ten minutes ahead and corrected by that: of it the clock of another machine says nothing.
    items[0]["clock"] = {"phone": "2026-03-04T07:10:00Z", "offset": -600_000, "sure": True}
    lost.app(ADD, items)
    # By keyboard: the screen is drawn anew under the focus, which stays.
    page.get_by_role("button", name="Save to a file").focus()
    lost.app(MANY, [[], 1, 50_000])
    lost.app(
        "(app) => app.store.put('drafts', {id: 'd', screen: 'phone', args: [], project: null, at: '', values: {}})"
    )
    expect(page.locator(".field-unsent")).to_contain_text("4 unsent")
    expect(page.get_by_text("4 things wait.")).to_be_visible()
    expect(page.get_by_role("button", name="Save to a file")).to_be_focused()
    with page.expect_download() as found:
        page.keyboard.press("Enter")
    whole = tmp_path / found.value.suggested_filename
    found.value.save_as(whole)
    # Nothing left the phone by that.
    assert lost.app("(app) => app.store.count('queue')") == 4
    lines = whole.read_text().splitlines()
    digests = "".join(hashlib.sha256(line.encode()).hexdigest() for line in lines[:-1])
    assert json.loads(lines[-1]) == {"lines": len(lines) - 1, "digest": hashlib.sha256(digests.encode()).hexdigest()}
    # At the office, by another person: whose it is, whether it is whole, and who will have entered it.
    page = office.open("#/file")
    cut = tmp_path / "cut.jsonl"
    cut.write_text("\n".join(lines[:3]))
    page.get_by_label("File").set_input_files(cut)
    expect(page.get_by_text("The file is not as it was saved")).to_be_visible()
    page.get_by_label("File").set_input_files(whole)
    expect(page.get_by_text("Of Ines Inspector, The Company, saved")).to_contain_text("4 records, 1 photo, 1 draft")
    expect(page.get_by_text("The file is not as it was saved")).to_have_count(0)
    expect(
        page.get_by_text("It is sent as you, Quinn Quality: the records will say that you entered them.")
    ).to_be_visible()
    axe(page)
    page.get_by_role("button", name="Send it as Quinn Quality").click()
    expect(page.get_by_text("4 records taken into the queue.")).to_be_visible()
    # The photo's address asks more than this test's one says, so it is refused with its sentences and kept.
    expect(page.locator(".field-unsent")).to_contain_text("1 unsent, just now, 1 needs you", timeout=30_000)
    assert {str(pk) for pk in ClimateRecord.objects.values_list("pk", flat=True)} == {item["id"] for item in items}
    # The same file again, and the phone that comes back to a signal: nothing is stored twice.
    page.get_by_role("link", name="See how they are sent").click()
    page.get_by_role("link", name="Send a saved file").click()
    page.get_by_label("File").set_input_files(whole)
    page.get_by_role("button", name="Send it as Quinn Quality").click()
    expect(page.get_by_text("0 records taken into the queue.")).to_be_visible()
    expect(page.get_by_text("3 were sent from here already.")).to_be_visible()
    lost.offline(False)
    lost.app("(app) => app.queue.sendAll()")
    assert ClimateRecord.objects.count() == 3
    # A file is data of whoever wrote it: one that asks for what the app never sends gets it with nobody's rights.
    head = json.loads(lines[0])
    asked = {**json.loads(lines[1]), "body": {"name": "a key for somebody else"}}
    asked["item"] |= {"id": str(new_id()), "address": "/api/tokens/", "needs": [], "words": {"title": "Climate"}}
    strange = tmp_path / "strange.jsonl"
    strange.write_text("\n".join(json.dumps(each) for each in (head, asked)))
    page.get_by_role("link", name="See how they are sent").click()
    page.get_by_role("link", name="Send a saved file").click()
    went: list[str] = []
    page.on("request", lambda request: went.append(request.url) if request.method == "POST" else None)
    page.get_by_label("File").set_input_files(strange)
    page.get_by_role("button", name="Send it as Quinn Quality").click()
    expect(page.locator(".field-unsent")).to_contain_text("2 need you", timeout=30_000)
    page.get_by_role("link", name="See how they are sent").click()
    expect(page.get_by_text("something that this version of the app never sends")).to_be_visible()
    assert not went
