"""The shell of the field app: what the server gives, and that everything typed and queued outlives what can happen."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

from inspection.fieldapp import files
from tests.cast import Cast

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
