"""Every page of the table in a real browser: axe-core finds nothing, and nothing scrolls sideways on a phone."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse

from tests.sight import world as worlds
from tests.sight.rows import ADMIN, AUDITOR, CLIENT, CONTRACTOR, INSPECTOR, MANAGER, routes
from tests.sight.table import ROWS

pytestmark = pytest.mark.browser
ROUTES = {route.name: route for route in routes()}
# Who is asked first; pages of strangers are looked at by nobody signed in.
ORDER = (MANAGER, INSPECTOR, CLIENT, CONTRACTOR, AUDITOR, ADMIN)


@pytest.mark.parametrize(("width", "dark"), [(390, False), (1280, True)])
def test_every_page_is_sound(
    transactional_db: None, page_as: Callable[..., Any], axe: Callable[[Any], None], width: int, dark: bool
) -> None:
    world = worlds.build()
    cast = world.cast
    people = {
        MANAGER: cast.quinn, INSPECTOR: cast.ines, CLIENT: cast.clara, CONTRACTOR: world.own.painter,
        AUDITOR: cast.audrey, ADMIN: cast.admin,
    }  # fmt: skip
    pages = {role: page_as(person, width=width, dark=dark) for role, person in people.items()}
    stranger, wrong, seen = page_as(None, width=width, dark=dark), [], 0
    for row in ROWS:
        route = ROUTES[row.name]
        role = next((role for role in ORDER if role in row.allowed), None)
        if row.method != "GET" or route.api or role is None:
            continue
        address = reverse(row.name, kwargs=row.args(world.own))
        # Files are for other programs to show.
        if re.search(r"\.\w+$|/file/$", address):
            continue
        page = stranger if row.to_strangers == 200 else pages[role]
        page.goto(address)
        seen += 1
        if page.evaluate("document.contentType") != "text/html":
            continue
        try:
            axe(page)
        except AssertionError as found:
            wrong.append(f"{address}: {found}")
        across = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        if across > 0:
            wrong.append(f"{address} scrolls sideways by {across} px at {width} px")
    assert seen > 40
    assert not wrong, "\n".join(wrong)
