"""Debian's Chromium, for what needs no Django."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Browser, sync_playwright

from tests import services

# No look-ups of its own: a test run must not depend on, or tell, the world outside.
FLAGS = [
    "--disable-gpu",
    "--disable-quic",
    "--disable-sync",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-dev-shm-usage",
    "--no-first-run",
]


@contextmanager
def started() -> Iterator[Browser]:
    flags = [*FLAGS, "--no-sandbox"] if os.geteuid() == 0 else FLAGS
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=services.program("chromium"), args=flags)
        yield browser
        browser.close()
