"""Every screen of the field app as its users hold it: upright and across, light and dark, large text, keys alone."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from django.utils import timezone
from playwright.sync_api import Page, expect

from inspection.drawings.actions import Placed, set_areas
from inspection.drawings.models import Drawing
from inspection.instruments.models import Gauge, ReferenceStandard
from inspection.projects.models import InspectionArea, Station, StationArea
from tests.browsing import RUN_AXE
from tests.cast import Cast
from tests.drawings.test_drawings import kept
from tests.fieldapp.conftest import climate_item
from tests.fieldapp.test_thumb_in_browser import with_pack

pytestmark = pytest.mark.browser
UPRIGHT, ACROSS = {"width": 390, "height": 844}, {"width": 844, "height": 390}
# A few that hold every type of field between them: figures, rows, shares, readings, moments, things of the pack.
FORMS = ("pulloff", "profile", "lot", "hand-over")

# What an inspector has half done: a measurement, a check, a form; and what the queue may hold.
HALF_DONE = """async (app, {area, coat, coat2, gauge, tester, cell, shims, items, at}) => {
    const { openDraft } = await import('/static/field/drafts.js');
    const measured = await openDraft(app, {screen: 'thickness', args: [area, coat]});
    const readings = [84, 91.5, 78, 755].map((um, n) => ({spot: Math.floor(n / 3) + 1, order: n % 3 + 1,
        value_nm: um * 1000, at, void_reason: n === 1 ? 'probe slipped' : ''}));
    await measured.set('setup', {id: crypto.randomUUID(), gauge, profile_way: 'adjusted', correction_nm: 0});
    await measured.set('m', {pad: {text: '8', landed: ''}, spot: null, readings,
        taken_back: [{spot: 1, value_nm: 87000, at}]});
    const thick = await openDraft(app, {screen: 'thickness', args: [area, coat2]});
    await thick.set('setup', {id: crypto.randomUUID(), gauge, profile_way: 'adjusted', correction_nm: 0});
    await thick.set('m', {pad: {text: '24', landed: '', led: true}, spot: null, led: true, taken_back: [],
        readings: [{spot: 1, order: 1, value_nm: 247000, at, void_reason: ''}]});
    const beside = await openDraft(app, {screen: 'check', args: [tester]});
    await beside.set('setup', {id: crypto.randomUUID(), standards: [cell], each: 2, purpose: 'opening',
        adjustment: 'none', as_left: true});
    await beside.set('c', {pad: {text: '5.', landed: ''}, at, points: [
        {standard: cell, reference: '2.5', readings: ['2.51', '2.49']},
        {standard: cell, reference: '5', readings: []}]});
    const check = await openDraft(app, {screen: 'check', args: [gauge]});
    await check.set('setup', {id: crypto.randomUUID(), standards: shims, stack: [], each: 3, surface: 'smooth',
        adjustment: 'none', purpose: 'opening', as_left: true, target: ''});
    await check.set('c', {pad: {text: '', landed: ''}, readings: [[50100, 50300, 49900], [125000], []], at});
    await app.queue.add(items);
    const answer = {kind: 'faults', errors: [{field: 'surface_c', message: 'The steel is colder than any on earth.'}]};
    for (const [n, state] of ['refused', 'asked'].entries()) {
        const row = await app.store.get('queue', items[n].id);
        await app.store.put('queue', {...row, state, answer});
    }
    await app.store.put('receipts', {id: crypto.randomUUID(), at, digest: 'ab', differs: true,
        words: items[2].words, told: {verdict: 'pass', why: Array(5).fill('Every spot mean is at least 80 %.')},
        answered: {verdict: 'fail', why: ['The area mean is at least the specified minimum.']}});
    await app.store.put('receipts', {id: crypto.randomUUID(), at, aside: 'Recorded twice', words: items[2].words});
}"""

# Things that a hand or a key can reach, apart from what is folded away.
REACHABLE = (
    "a[href], button:not(:disabled), input:not(:disabled), select, textarea, summary, [tabindex]:not([tabindex='-1'])"
)

# Smaller than a thumb: 44 px (WCAG 2.2, 2.5.5), 56 px on the pads; links in a sentence may be as their line is.
TOO_SMALL = f"""() => [...document.querySelectorAll("{REACHABLE}")].flatMap((one) => {{
    if (!one.checkVisibility() || one.closest('.skip')) return [];
    // A ticked box is pressed by its label as well.
    const target = one.matches('[type=checkbox], [type=radio]') ? one.closest('label') || one : one;
    if (one.matches('a') && getComputedStyle(one).display === 'inline') return [];
    const {{ width, height }} = target.getBoundingClientRect();
    const least = one.closest('.pad') ? 56 : 44;
    return Math.min(width, height) < least - 0.5
        ? [`${{one.outerHTML.slice(0, 100)}}: ${{Math.round(width)}} × ${{Math.round(height)}}`] : [];
}})"""

# With text at twice its size: nothing beside the window, nothing hidden by its own box.
CUT_OFF = """() => {
    const wide = document.documentElement.clientWidth;
    const found = document.documentElement.scrollWidth > wide
        ? [`the page is ${document.documentElement.scrollWidth} px wide`] : [];
    for (const one of document.querySelectorAll('body *')) {
        if (!one.checkVisibility() || one.closest('.visually-hidden, .skip, main:has(.thumb) > h1')) continue;
        const box = one.getBoundingClientRect();
        const told = `${one.outerHTML.slice(0, 100)}: ${Math.round(box.left)} to ${Math.round(box.right)}`;
        if (box.width && (box.right > wide + 1 || box.left < -1)) found.push(told);
        // Words that run over the edge of what holds them; a field scrolls its own text.
        if (one.matches('button, a, summary, label, p, li, legend') && one.scrollWidth > one.clientWidth + 1
            && getComputedStyle(one).display !== 'inline') found.push(`runs over: ${told}`);
    }
    return found;
}"""

OF_COLOURS = RUN_AXE.replace("{resultTypes", '{runOnly: ["color-contrast"], resultTypes', 1)
LARGE = "(size) => { document.documentElement.style.fontSize = size; }"
# What a tap on it would hit: nothing that stays in sight lies over anything else once it was scrolled to.
COVERED = f"""() => [...document.querySelectorAll("{REACHABLE}")].flatMap((one) => {{
    if (!one.checkVisibility() || one.closest('.skip')) return [];
    one.scrollIntoView({{block: 'center', behavior: 'instant'}});
    const box = [...one.getClientRects()][0];
    const above = document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2);
    return above && (one.contains(above) || above.contains(one)) ? [] : [`covered: ${{one.outerHTML.slice(0, 100)}}`];
}})"""

# Where the focus is: what it is, and whether it can be seen and lies under nothing.
FOCUS = """() => {
    const one = document.activeElement;
    if (!one || one === document.body || one.matches('html')) return null;
    const style = getComputedStyle(one);
    const box = one.getBoundingClientRect();
    const [x, y] = [box.left + box.width / 2, box.top + Math.min(box.height / 2, 30)];
    const above = document.elementFromPoint(x, y);
    window.numbered ??= [];
    // The head is drawn anew now and then; its parts have a name that stays.
    window.alike = (other) => (one) => one === other || (one.dataset.key && one.dataset.key === other.dataset.key);
    if (!numbered.some(alike(one))) numbered.push(one);
    return {
        told: one.outerHTML.slice(0, 100), number: numbered.findIndex(alike(one)),
        seen: parseFloat(style.outlineWidth) >= 2 && style.outlineStyle !== 'none',
        free: Boolean(above) && (one.contains(above) || above.contains(one)),
    };
}"""
ORDER = f"""() => {{
    const all = [...document.querySelectorAll("{REACHABLE}")].filter((one) =>
        one.checkVisibility() && one.tabIndex >= 0);
    return {{
        missed: all.filter((one) => !numbered.some(alike(one))).map((one) => one.outerHTML.slice(0, 100)),
        inOrder: numbered.every((one, at) => !at || !one.isConnected || !numbered[at - 1].isConnected
            || numbered[at - 1].compareDocumentPosition(one) & Node.DOCUMENT_POSITION_FOLLOWING),
    }};
}}"""


def laid(cast: Cast) -> None:
    """A project as large as they come: long names, many places, several of each thing."""
    site = cast.site
    Gauge.objects.update(holder=cast.ines)
    ReferenceStandard.objects.update(holder=cast.ines)
    for identity, kind in (("R-02", "profile"), ("P-7", "adhesion"), ("C-3", "climate")):
        Gauge.objects.create(identity=identity, kind=kind, holder=cast.ines, check_tolerance_pct=5)
    ReferenceStandard.objects.create(identity="LC-1", kind="instrument")
    set_areas(cast.quinn, drawing=kept(cast).drawing, areas=[Placed(site.other_area, 2_000, 3_000)])
    InspectionArea.objects.bulk_create(
        InspectionArea(
            structure=site.structure, system=site.system, area_m2=9, code=f"WBT-3S-FR{n:03}-LONGITUDINAL-{n}",
            name=f"Underside of the stringer between frames {n} and {n + 1}, with its brackets and drain holes",
        )
        for n in range(60)
    )  # fmt: skip
    for code, name in (("S1", "Tank bottom, between the second and the third web frame"), ("S2", "Deck")):
        station = Station.objects.create(
            project=site.project, code=code, name=name, where="indoors", holds_for=timedelta(hours=4)
        )
        StationArea.objects.create(station=station, area=site.area if code == "S1" else site.other_area,
                                   begun_at=timezone.now() - timedelta(days=1))  # fmt: skip


def addresses(phone: Any, cast: Cast) -> Iterator[str]:
    """Each screen there is by its own name, and those that have more than one face by each."""
    names = phone.app("async () => (await import('/static/field/screens/index.js')).screens.map((one) => one.name)")
    site = cast.site
    more = {
        "form": [f"form/{name}/area={site.area.pk}/coat={site.coats[0].pk}" for name in FORMS],
        "thickness": [
            f"thickness/{site.area.pk}", f"thickness/{site.area.pk}/{site.coats[0].pk}",
            f"thickness/{site.area.pk}/{site.coats[0].pk}/again", f"thickness/{site.area.pk}/{site.coats[1].pk}",
        ],
        "check": [f"check/{each}" for each in Gauge.objects.values_list("pk", flat=True)],
        "drawing": [f"drawing/{Drawing.objects.get().pk}"],
        "places": [f"places/{site.area.pk}"],
        "climate": [f"climate/{Station.objects.get(code='S1').pk}"],
    }  # fmt: skip
    for name in names:
        yield from (f"#/{one}" for one in [*([] if name == "form" else [name]), *more.pop(name, [])])
    assert not more


def shown(page: Page, address: str) -> None:
    page.evaluate("(address) => { document.activeElement?.blur(); location.hash = address; }", address)
    # A screen takes the focus once it is drawn; what the store answers later is drawn a moment after.
    expect(page.locator("main:focus .field-screen")).to_have_attribute("data-screen", address.split("/")[1])
    page.wait_for_function(
        "() => { const drawn = document.body.innerText; return new Promise((done) => setTimeout("
        "() => done(drawn === document.body.innerText && document.querySelector('.field-screen > *')), 60)); }"
    )
    page.evaluate("() => document.querySelectorAll('.field-screen details').forEach((one) => { one.open = true; })")


def walked(page: Page) -> list[str]:
    """What is wrong for who has keys alone: Tab goes through all there is, in order, and out again at the end."""
    page.evaluate("() => { window.numbered = []; document.querySelector('.skip').focus(); }")
    wrong: list[str] = []
    before = -1
    for _ in range(300):
        at = page.evaluate(FOCUS)
        if at is None or at["number"] < before:
            break
        # A moment is several parts to the tabulator and one thing to us.
        if at["number"] == before and 'type="date' not in at["told"]:
            return [*wrong, f"trapped in {at['told']}"]
        before = at["number"]
        if not at["seen"]:
            wrong.append(f"no visible focus: {at['told']}")
        if not at["free"]:
            wrong.append(f"covered: {at['told']}")
        page.keyboard.press("Tab")
    else:
        wrong.append("no end within 300 steps")
    page.evaluate("() => document.activeElement.blur()")
    order = page.evaluate(ORDER)
    return [*wrong, *(f"not reached: {one}" for one in order["missed"]), *([] if order["inOrder"] else ["order"])]


def test_every_screen_serves_large_text_thumbs_keys_and_both_ways_of_holding_it(
    transactional_db: None, in_date: Cast, phone: Callable[..., Any]
) -> None:
    laid(in_date)
    site = in_date.site
    one = phone(in_date.ines)
    page = with_pack(one, in_date)
    one.app(
        HALF_DONE,
        {
            "area": str(site.area.pk), "coat": str(site.coats[0].pk), "coat2": str(site.coats[1].pk),
            "gauge": str(in_date.gauge.pk), "tester": str(Gauge.objects.get(identity="P-7").pk),
            "cell": str(ReferenceStandard.objects.get(identity="LC-1").pk),
            "shims": [str(in_date.shims[um].pk) for um in (50, 125, 250)],
            "items": [climate_item(in_date, minute) for minute in range(3)], "at": timezone.now().isoformat(),
        },
    )  # fmt: skip
    page.evaluate(AXE_SCRIPT)
    wrong: list[str] = []

    def look(address: str, how: str, found: list[str]) -> None:
        wrong.extend(f"{address}, {how}: {each}" for each in found)

    for at, address in enumerate(addresses(one, in_date)):
        shown(page, address)
        look(address, "keys alone", walked(page))
        for way, size in (("upright", UPRIGHT), ("across", ACROSS)):
            page.set_viewport_size(size)
            for scheme in ("light", "dark"):
                page.emulate_media(color_scheme=scheme)
                # A colour that still changes is none that anybody reads by.
                page.evaluate(
                    "() => document.body.offsetWidth && document.getAnimations().forEach((one) => one.finish())"
                )
                look(address, f"{way}, {scheme}", axed(page, scheme))
                picture(page, f"{at:02}-{way}-{scheme}")
            look(address, way, page.evaluate(TOO_SMALL))
            look(address, way, page.evaluate(CUT_OFF))
            look(address, way, page.evaluate(COVERED))
            page.evaluate(LARGE, "200%")
            look(address, f"{way}, text at 200 %", page.evaluate(CUT_OFF))
            look(address, f"{way}, text at 200 %", page.evaluate(COVERED))
            picture(page, f"{at:02}-{way}-large")
            page.evaluate(LARGE, "")
        page.set_viewport_size(UPRIGHT)
        page.emulate_media(color_scheme="light")
    assert not wrong, "\n" + "\n".join(wrong)


def axed(page: Page, scheme: str) -> list[str]:
    """What axe finds, each rule with the first places of it; in the dark, which changes colours alone, of these."""
    found = page.evaluate(RUN_AXE if scheme == "light" else OF_COLOURS)["violations"]
    return [f"axe {one['id']}: {[each['html'][:100] for each in one['nodes']][:3]}" for one in found]


def picture(page: Page, name: str) -> None:
    """With SCREEN_PICTURES set to a folder, each screen as it was looked at."""
    if folder := os.environ.get("SCREEN_PICTURES"):
        Path(folder).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=Path(folder) / f"{name.replace('/', '_')}.png", full_page=True)
