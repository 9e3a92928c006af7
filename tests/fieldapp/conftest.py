"""The field app in a real browser with a profile on the disk: its network can be cut, and it can be killed."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import BrowserContext, BrowserType, Error, Page, expect

from accounts.models import Person
from inspection.foundation.ids import new_id
from tests import services
from tests.cast import MORNING
from tests.chromium import FLAGS

FAR = time.time() + 30 * 24 * 3600
# For Phone.app: what is given goes into the queue.
ADD = "(app, items) => app.queue.add(items)"


class Phone:
    """One phone. `page` shows the app; what it keeps survives `kill()`, which ends the browser without a farewell."""

    def __init__(self, browser_type: BrowserType, address: str, profile: Path, **how: Any) -> None:
        self.browser_type, self.address, self.profile = browser_type, address, profile
        self.how = {"width": 390, "height": 844, "dark": False, "flags": [], **how}
        self.complaints: list[str] = []
        self.context: BrowserContext | None = None
        self.is_offline = False
        self.session = ""
        self.start()

    def start(self) -> None:
        self.context = self.browser_type.launch_persistent_context(
            str(self.profile),
            executable_path=services.program("chromium"),
            args=[*FLAGS, *self.how["flags"], *(["--no-sandbox"] if os.geteuid() == 0 else [])],
            base_url=self.address,
            service_workers="allow",
            viewport={"width": self.how["width"], "height": self.how["height"]},
            color_scheme="dark" if self.how["dark"] else "light",
        )
        self._give_session()
        self.context.set_offline(self.is_offline)
        self.page = self.listened(self.context.pages[0])

    def listened(self, page: Page) -> Page:
        page.set_default_timeout(15_000)
        page.on("pageerror", lambda error: self.complaints.append(f"{page.url}: {error}"))
        page.on(
            "console",
            lambda said: "Content Security Policy" in said.text and self.complaints.append(f"{page.url}: {said.text}"),
        )
        return page

    def sign_in(self, person: Person | None) -> None:
        """As that person from now on; None for nobody."""
        assert self.context
        self.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
        self.context.clear_cookies(name=settings.CSRF_COOKIE_NAME)
        self.session = ""
        if person:
            client = Client()
            client.force_login(person, settings.AUTHENTICATION_BACKENDS[0])
            self.session = client.cookies[settings.SESSION_COOKIE_NAME].value
            self._give_session()

    def _give_session(self) -> None:
        """Also after a kill: the browser writes its cookies to the disk only every half minute."""
        told = {"name": settings.SESSION_COOKIE_NAME, "value": self.session, "url": self.address, "expires": FAR}
        if self.context and self.session:
            self.context.add_cookies([told])

    def open(self, hash_: str = "", *, ready: bool = True) -> Page:
        """The app at that address in it; `ready` waits until it would open without a network."""
        self.page.goto(f"/field/{hash_}")
        if ready:
            expect(self.page.locator("html[data-kept] .field-top a").first).to_be_visible(timeout=20_000)
        return self.page

    def tab(self, hash_: str = "") -> Page:
        """A second page of the app in the same browser."""
        assert self.context
        page = self.listened(self.context.new_page())
        page.goto(f"/field/{hash_}")
        expect(page.locator("html[data-kept] .field-top a").first).to_be_visible(timeout=20_000)
        return page

    def offline(self, off: bool = True) -> None:
        assert self.context
        self.is_offline = off
        self.context.set_offline(off)

    def kill(self) -> None:
        """Ends the browser as a phone does that runs empty: at once."""
        mine = f"--user-data-dir={self.profile}"
        for place in Path("/proc").glob("[0-9]*/cmdline"):
            try:
                told = place.read_bytes().decode(errors="replace").split("\0")
            except OSError:
                continue
            if mine in told:
                os.kill(int(place.parent.name), signal.SIGKILL)
        self.close()
        for name in ("SingletonLock", "SingletonCookie", "SingletonSocket"):
            (self.profile / name).unlink(missing_ok=True)

    def close(self) -> None:
        if self.context:
            # The browser may have been killed.
            with suppress(Error):
                self.context.close()
        self.context = None

    def app(self, script: str, argument: Any = None) -> Any:
        """What a function of the app gives: `(app, argument) => …`."""
        return self.page.evaluate(
            f"async (argument) => {{ const {{ app, started }} = await import('/static/field/app.js');"
            f" await started; return ({script})(app, argument); }}",
            argument,
        )

    def all_sent(self) -> None:
        """Waits until nothing waits, which the head says a moment later."""
        end = time.monotonic() + 60
        while self.app("(app) => app.store.count('queue')") and time.monotonic() < end:
            time.sleep(0.1)
        expect(self.page.locator(".field-unsent")).to_have_text("All sent", timeout=60_000)


@pytest.fixture
def phone(chromium: Any, live_server: Any, tmp_path: Path) -> Iterator[Callable[..., Phone]]:
    """phone(person, width=390, height=844, dark=False): a phone with that person signed in."""
    phones: list[Phone] = []

    def made(person: Person | None, **how: Any) -> Phone:
        one = Phone(chromium.browser_type, live_server.url, tmp_path / f"phone-{len(phones)}", **how)
        phones.append(one)
        one.sign_in(person)
        return one

    yield made
    for one in phones:
        one.close()
    assert not [complaint for one in phones for complaint in one.complaints]


def picture(page: Page, name: str, height: int = 844) -> None:
    """With FIELD_PICTURES set, what the guides to it show is taken anew; of a long page so much of the window."""
    if "FIELD_PICTURES" in os.environ:
        page.mouse.move(0, 0)
        # What was said of the step before is none of what is shown.
        page.evaluate("() => document.getElementById('said').click()")
        clip = {"x": 0, "y": 0, "width": 390, "height": height}
        page.screenshot(path=services.ROOT / "docs" / "pictures" / f"field-{name}.png", clip=clip)  # type: ignore[arg-type]  # a FloatRect


def climate_item(cast: Any, minute: int = 0, **changes: Any) -> dict[str, Any]:
    """A climate record as a screen of the app puts it into the queue."""
    site = cast.site
    identity = str(new_id())
    body = {
        "id": identity, "project": str(site.project.pk), "area": str(site.area.pk), "coat": str(site.coats[0].pk),
        "taken_at": (MORNING + timedelta(minutes=minute)).isoformat(), "dry_bulb_c": 20, "wet_bulb_c": 15.0,
        "surface_c": 18, "note": "", **changes,
    }  # fmt: skip
    words = {"title": f"Climate {minute}", "place": "A1"}
    return {"id": identity, "address": "/api/climate/", "body": body, "words": words}
