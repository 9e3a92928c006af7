"""Pages signed in as a person, and what axe-core says of a page."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from axe_playwright_python.base import AXE_SCRIPT, AxeResults
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page

from accounts.models import Person

PageAs = Callable[..., Page]


@contextmanager
def visitors(browser: Browser, address: str) -> Iterator[PageAs]:
    contexts: list[BrowserContext] = []
    complaints: list[str] = []

    def page_as(person: Person | None, *, width: int = 390, dark: bool = False, scripts: bool = True) -> Page:
        context = browser.new_context(
            base_url=address,
            viewport={"width": width, "height": 844 if width < 600 else 900},
            color_scheme="dark" if dark else "light",
            java_script_enabled=scripts,
        )
        contexts.append(context)
        if person:
            client = Client()
            client.force_login(person, settings.AUTHENTICATION_BACKENDS[0])
            key = client.cookies[settings.SESSION_COOKIE_NAME].value
            context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": key, "url": address}])
        page = context.new_page()
        page.set_default_timeout(15_000)
        page.on("pageerror", lambda error: complaints.append(f"{page.url}: {error}"))
        page.on("console", lambda said: _listen(page, said.text, complaints))
        return page

    try:
        yield page_as
    finally:
        for context in contexts:
            context.close()
    assert not complaints, "\n".join(complaints)


def _listen(page: Page, text: str, complaints: list[str]) -> None:
    if "Content Security Policy" in text:
        complaints.append(f"{page.url}: {text}")


# Only what is wrong is brought back: all that is right as well takes a browser longer to tell than to find.
RUN_AXE = 'axe.run({resultTypes: ["violations"]}).then(found => ({violations: found.violations}))'


def assert_axe_finds_nothing(page: Page) -> None:
    page.evaluate(AXE_SCRIPT)
    results = AxeResults(page.evaluate(RUN_AXE))
    assert not results.violations_count, f"{page.url} ({page.viewport_size}): {results.generate_report()}"
