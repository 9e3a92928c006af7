"""A whole day without a signal, with a phone that dies five times, sent afterwards over a bad link."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from playwright.sync_api import expect

from accounts.journal import altered
from accounts.models import JournalEntry
from inspection.fieldwork.kinds import TAKEN_BY_FORM
from inspection.instruments.models import Verification
from inspection.photos.models import Photo
from tests.cast import MORNING, Cast
from tests.fieldapp.bodies import RECORDS
from tests.fieldapp.conftest import ADD
from tests.fieldapp.test_told_forms import named
from tests.instruments.test_slips import GOOD
from tests.instruments.test_slips import sent as check_sent

pytestmark = pytest.mark.browser
KINDS = (
    "climate", "steelwork", "air", "abrasive", "look", "cleanliness", "salts", "dust", "wetfilm", "cuttest",
    "hardness", "defects",
)  # fmt: skip
# A screen of a phone under a machine that has other work.
PATIENCE_MS = 60_000
ROUNDS, PHOTOS = 5, 40

# What somebody types into the form, kept as a draft; the hand then opens it and taps.
TYPED = """async (app, [name, sample, args]) => {
    const { openDraft } = await import('/static/field/drafts.js');
    const { startOf, typedOf } = await import('/static/field/told.js');
    const { newId, now } = await import('/static/field/ids.js');
    const form = app.pack.forms.find((each) => each.name === name);
    const { time_zone: zone, unit } = app.pack.project;
    const draft = await openDraft(app, {screen: 'form', args: [name, ...args]});
    Object.assign(draft.values, startOf(form, {now: now(), zone, unit}), typedOf(form, sample, zone));
    draft.values.own_id = newId();
    await draft.save();
    return draft.values.own_id;
}"""

# The same without the taps, which are the first round's: what the form reads out of it goes into the queue.
KEPT = """async (app, [name, sample]) => {
    const { bodyOf, startOf, typedOf } = await import('/static/field/told.js');
    const { newId, now } = await import('/static/field/ids.js');
    const form = app.pack.forms.find((each) => each.name === name);
    const { time_zone: zone, unit } = app.pack.project;
    const id = newId();
    const values = {...startOf(form, {now: now(), zone, unit}), ...typedOf(form, sample, zone)};
    const { body, faults } = bodyOf(form, values, {id, project: app.project.id, zone, unit, now: now().getTime()});
    if (faults.length) throw new Error(JSON.stringify(faults));
    await app.queue.add([{id, address: form.address, body, words: {title: form.title, place: 'A1'}}]);
    return id;
}"""

TAKE_PHOTO = """async (app, [record, number]) => {
    const { newId } = await import('/static/field/ids.js');
    const canvas = new OffscreenCanvas(64, 48);
    const drawn = canvas.getContext('2d');
    drawn.fillStyle = `rgb(${number * 6}, 90, 200)`;
    drawn.fillRect(0, 0, 64, 48);
    const blob = await canvas.convertToBlob({type: 'image/jpeg'});
    const digest = Array.from(new Uint8Array(await crypto.subtle.digest('SHA-256', await blob.arrayBuffer())),
        (byte) => byte.toString(16).padStart(2, '0')).join('');
    await app.store.put('photos', {digest, blob});
    const id = newId();
    await app.queue.add([{id, address: '/api/photos/', photos: [digest], needs: [record],
        body: {id, of: 'record', thing: record, caption: `Photo ${number}`, file: {$photo: digest}},
        words: {title: `Photo ${number}`, place: 'A1'}}]);
    return id;
}"""


def _day(one: Any, cast: Cast) -> tuple[list[str], dict[str, str], list[str]]:
    """Ten hours, two a round, each ended by a phone that runs empty: ids in their order, the kind of each."""
    site = cast.site
    args = [f"area={site.area.pk}", f"coat={site.coats[0].pk}"]
    order: list[str] = []
    kinds: dict[str, str] = {}
    photos: list[str] = []
    for turn in range(ROUNDS):
        if turn in (0, 2, 4):
            check = check_sent(cast, GOOD, taken_at=(MORNING + timedelta(hours=2 * turn)).isoformat())
            words = {"title": f"Check {turn}", "place": ""}
            one.app(ADD, [{"id": check["id"], "address": "/api/verifications/", "body": check, "words": words}])
            order.append(check["id"])
        for place, kind in enumerate(KINDS):
            at = MORNING + timedelta(hours=2 * turn, minutes=9 * place)
            where = {"area": str(site.area.pk), "coat": str(site.coats[0].pk), "taken_at": at.isoformat()}
            sample = where | named(RECORDS[kind], {})
            if turn:
                identity = one.app(KEPT, [kind, sample])
            else:
                identity = one.app(TYPED, [kind, sample, args])
                one.page.evaluate("hash => { location.hash = hash; }", f"#/form/{kind}/{'/'.join(args)}")
                one.page.get_by_role("button", name="Keep and send").click()
                expect(one.page.locator(".told-form")).to_have_count(0, timeout=PATIENCE_MS)
            order.append(identity)
            kinds[identity] = kind
            if place < PHOTOS // ROUNDS:
                photo = one.app(TAKE_PHOTO, [identity, len(photos)])
                order.append(photo)
                photos.append(photo)
        one.kill()
        one.start()
        one.open("#/")
        expect(one.page.locator(".field-unsent")).to_contain_text(f"{len(order)} unsent", timeout=PATIENCE_MS)
    return order, kinds, photos


def test_a_day_of_twelve_kinds_offline_with_five_dead_phones_is_stored_once_whole_and_in_order(
    transactional_db: None, cast: Cast, phone: Callable[..., Any]
) -> None:
    one = phone(cast.ines)
    page = one.open("#/packs")
    page.get_by_role("button", name="Take it along").click()
    expect(page.locator("#said")).to_contain_text(
        "Taken along",
        timeout=30_000,
    )
    one.offline()
    order, kinds, photos = _day(one, cast)
    assert (len(kinds), len(photos), len(order)) == (60, 40, 103)
    bodies = one.app(
        "async (app, ids) => Promise.all(ids.map((id) => app.queue.body(id)))",
        [each for each in order if each in kinds],
    )
    page, requests, dropped = one.page, [0], [0]

    def bad_link(route: Any) -> None:
        if route.request.method != "POST":
            route.continue_()
            return
        requests[0] += 1
        if requests[0] % 3:
            route.continue_()
            return
        dropped[0] += 1
        if dropped[0] % 2:
            # The office stored it, and its answer was lost.
            route.fetch()
        route.abort()

    page.route("**/api/**", bad_link)
    one.offline(False)
    one.app("(app) => { app.queue.pace = 0.02; app.queue.sendSoon(); }")
    one.all_sent()
    assert dropped[0] >= len(order) // 3
    receipts = {row["id"]: row["digest"] for row in one.app("(app) => app.queue.receipts()")}
    stored: dict[str, tuple[str, Any]] = {}
    for kind, _ in TAKEN_BY_FORM:
        if kind.name in KINDS:
            stored |= {str(row.pk): (kind.name, row) for row in kind.model.objects.all()}
    assert {pk: name for pk, (name, _) in stored.items()} == kinds, "each once, and of its kind"
    assert all(row.digest == receipts[pk] for pk, (_, row) in stored.items())
    for body in bodies:
        row = stored[body["id"]][1]
        assert (str(row.area_id), row.note) == (body["area"], body.get("note", "")), "whole"
    assert Verification.objects.count() == 3
    pictures = {str(row.pk): row.file_id for row in Photo.objects.all()}
    assert pictures == {each: receipts[each] for each in photos}
    assert one.app("(app) => app.store.count('photos')") == 0
    # The journal has each once: records in the order of the day, then photos in theirs; every entry as it was written.
    entries = JournalEntry.objects.filter(object_id__in=order).order_by("pk")
    records = [each for each in order if each not in photos]
    assert [entry.object_id for entry in entries] == records + photos
    assert not [entry for entry in entries if altered(entry)]
