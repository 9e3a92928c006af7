"""Sets of readings and the arguments of a recording, for the tests of the field room."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import timedelta
from html import unescape
from typing import Any

from django.test import Client

from inspection.fieldwork.judging import ReadingSent
from inspection.foundation.ids import new_id
from tests.cast import MORNING, Cast, Site


def spots(*values_um: Sequence[float]) -> list[ReadingSent]:
    """One list of readings a spot, in µm."""
    return [
        ReadingSent(spot, order, round(value * 1000))
        for spot, readings in enumerate(values_um, start=1)
        for order, value in enumerate(readings, start=1)
    ]


def singles(*values_um: float) -> list[ReadingSent]:
    """One reading a spot, as ISO 19840 and IMO count."""
    return spots(*[[value] for value in values_um])


# Five spots of three that pass the primer's 60 to 120 µm at level 3.
GOOD_SPOTS = spots([80, 82, 81], [75, 76, 77], [90, 91, 92], [70, 69, 71], [85, 84, 86])


def sent(cast: Cast, *, coat: int = 1, site: Site | None = None, **changes: Any) -> dict[str, Any]:
    """All that `record_thickness` asks, for the 8 m² area of a site after the coat, good unless changed."""
    site = site or cast.site
    return {
        "id": new_id(),
        "project": site.project,
        "area": site.area,
        "coat": site.coats[coat - 1],
        "gauge": cast.gauge,
        "profile_way": "adjusted",
        "unit": "um",
        "readings": GOOD_SPOTS,
        "first_reading_at": MORNING,
        "last_reading_at": MORNING + timedelta(hours=1),
        **changes,
    }


HIDDEN = re.compile(r'<input type="hidden" name="([^"]+)"(?: value="([^"]*)")?')


def kept_fields(page: Any) -> dict[str, str]:
    """What a page would send on with its button."""
    found = HIDDEN.findall(page.content.decode())
    return {name: unescape(value) for name, value in found if name != "csrfmiddlewaretoken"}


def correct_by_page(client: Client, address: str, typed: dict[str, Any]) -> Any:
    """The answer to a correction typed and, where it is shown first, stored from the page that shows it."""
    shown = client.post(address, typed)
    return client.post(address, kept_fields(shown) | {"go": "store"}) if shown.status_code == 200 else shown
