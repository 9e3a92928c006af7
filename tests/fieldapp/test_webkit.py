"""The field app in WebKit, with its link to the office really cut."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlsplit

import pytest
from django.conf import settings
from django.test import Client

from inspection.fieldwork.models import ClimateRecord
from tests import services
from tests.cast import Cast
from tests.fieldapp.conftest import climate_item
from tests.fieldapp.webkit import link, webkit

THERE = services.is_there("WebKitWebDriver") and services.is_there("Xvfb")
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(not THERE, reason="needs WebKit: install Debian's packages webkit2gtk-driver and xvfb"),
]
APP = "const { app, started } = await import('/static/field/app.js'); await started;"
UNSENT = "document.querySelector('.field-unsent')?.textContent.startsWith(args[0])"


def test_it_opens_without_a_link_keeps_what_is_recorded_and_sends_it_later(
    transactional_db: None, cast: Cast, live_server: Any
) -> None:
    client = Client()
    client.force_login(cast.ines, settings.AUTHENTICATION_BACKENDS[0])
    key = client.cookies[settings.SESSION_COOKIE_NAME].value
    with link(urlsplit(live_server.url).port or 0) as way, webkit() as browser:
        browser.goto(f"{way.address}/sign-in/")
        browser.ask("POST", "/cookie", {"cookie": {"name": settings.SESSION_COOKIE_NAME, "value": key, "path": "/"}})
        browser.goto(f"{way.address}/field/#/send")
        browser.wait("document.documentElement.dataset.kept")
        way.cut()
        browser.goto(f"{way.address}/field/#/phone")
        browser.wait(UNSENT, "All sent")
        item = climate_item(cast, 1)
        browser.run(f"{APP} await app.queue.add([args[0]])", item)
        typed = """
            const { openDraft } = await import('/static/field/drafts.js');
            await (await openDraft(app, {screen: 'thickness', args: ['A1']})).set('value', '84');
        """
        browser.run(APP + typed)
        browser.wait(UNSENT, "1 unsent")
        browser.ask("POST", "/refresh", {})
        browser.wait(UNSENT, "1 unsent")
        assert browser.run(f"{APP} return (await app.store.all('drafts'))[0].values") == {"value": "84"}
        assert not ClimateRecord.objects.exists()
        way.mend()
        browser.run(f"{APP} await app.queue.sendAll()")
        browser.wait(UNSENT, "All sent")
        receipts = browser.run(f"{APP} return await app.queue.receipts()")
    assert [(row["id"], row["digest"]) for row in receipts] == [(item["id"], ClimateRecord.objects.get().digest)]
