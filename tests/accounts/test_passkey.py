"""A passkey in Chromium, made and used on its virtual authenticator (DevTools protocol, WebAuthn)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from allauth.mfa.models import Authenticator

from accounts.models import JournalEntry
from tests import cast as casting
from tests.cast import PASSWORD

pytestmark = pytest.mark.browser


def test_a_passkey_is_added_and_signs_in(
    transactional_db: None, page_as: Callable[..., Any], axe: Callable[[Any], None]
) -> None:
    ines = casting.cast().ines
    page = page_as(ines)
    device = page.context.new_cdp_session(page)
    device.send("WebAuthn.enable")
    ctap = {
        "protocol": "ctap2", "transport": "internal", "hasUserVerification": True, "isUserVerified": True,
        "automaticPresenceSimulation": True,
    }  # fmt: skip
    device.send("WebAuthn.addVirtualAuthenticator", {"options": ctap})

    page.goto("/me/factors/passkeys/add/")
    axe(page)
    page.get_by_label("Name").fill("Site tablet")
    page.get_by_role("button", name="Add the passkey").click()
    page.wait_for_url("**/me/factors/codes/")
    assert Authenticator.objects.get(type="webauthn").wrap().name == "Site tablet"

    page.goto("/me/")
    page.get_by_role("button", name="Sign out").click()
    page.goto("/sign-in/")
    page.get_by_label("E-mail address").fill(ines.email)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/sign-in/code/")
    axe(page)
    page.get_by_role("button", name="Sign in with the passkey").click()
    page.wait_for_url(lambda address: "/sign-in/" not in address)
    page.goto("/me/factors/passkeys/")
    assert page.get_by_role("row").filter(has_text="Site tablet").is_visible()
    assert JournalEntry.objects.filter(verb="sign_in.done", actor=ines).exists()
