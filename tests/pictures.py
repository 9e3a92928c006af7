"""The pictures of the README, from the demo: `make pictures` plays it in a folder of its own and writes them anew.

The demo is only what they show; no check rests on it.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Page

from tests import services
from tests.chromium import started

FOLDER = services.ROOT / "docs" / "pictures"
PHONE, DESK = (390, 844), (1280, 900)


@dataclass(frozen=True)
class Picture:
    """Who looks at what, on which screen (CSS pixels, width by height), by which way from their first page."""

    name: str
    person: str
    screen: tuple[int, int]
    way: Callable[[Page], object]


def first_row(page: Page, address: str) -> None:
    page.goto(address)
    page.locator("tbody th a").first.click()


def trace_of_a_release(page: Page) -> None:
    first_row(page, "/hold-points/?place=released")
    page.locator(".page-actions").get_by_role("link", name="Trace").click()


PICTURES = (
    Picture("record", "jonas", PHONE, lambda page: first_row(page, "/thickness/")),
    Picture("decisions", "tove", DESK, lambda page: page.goto("/decisions/")),
    Picture("hold-point", "edda", DESK, lambda page: first_row(page, "/hold-points/")),
    Picture("trace", "benoit", DESK, trace_of_a_release),
)


def main() -> None:
    with tempfile.TemporaryDirectory(prefix="stripecoat-pictures-") as folder:
        port = services.free_port()
        ours = {"VAR_DIR": folder, "SECRET_KEY": "for pictures only", "PLAIN_HTTP": "1", "PYTHONUNBUFFERED": "1"}
        env = {**os.environ, **ours, "SITE_URL": f"http://localhost:{port}"}
        for step in (["migrate", "--verbosity", "0"], ["collectstatic", "--no-input", "--verbosity", "0"]):
            manage(env, *step)
        password = re.search("with the password “(.+)”", manage(env, "demo"))
        if not password:
            raise SystemExit("The demo names no password.")
        log = Path(folder) / "serve.log"
        serve = [sys.executable, "manage.py", "serve", "--port", str(port)]
        with services.running(serve, log=log, env=env, ready=lambda: "Serving on" in log.read_text()):
            take(env["SITE_URL"], password[1])


def manage(env: dict[str, str], *arguments: str) -> str:
    command = [sys.executable, "manage.py", *arguments]
    return subprocess.run(command, cwd=services.ROOT, env=env, stdout=subprocess.PIPE, text=True, check=True).stdout


def take(site: str, password: str) -> None:
    """Each picture in the light theme, into docs/pictures/."""
    FOLDER.mkdir(exist_ok=True)
    with started() as browser:
        for picture in PICTURES:
            width, height = picture.screen
            context = browser.new_context(
                base_url=site, viewport={"width": width, "height": height}, color_scheme="light"
            )
            page = context.new_page()
            page.goto("/sign-in/")
            page.get_by_label("E-mail address").fill(f"{picture.person}@example.com")
            page.get_by_label("Password", exact=True).fill(password)
            page.get_by_role("button", name="Sign in").click()
            picture.way(page)
            page.wait_for_load_state("networkidle")
            page.screenshot(path=FOLDER / f"{picture.name}.png")
            context.close()
            print(f"docs/pictures/{picture.name}.png")


if __name__ == "__main__":
    main()
