"""Pages of climate stations and logs in a browser: with axe, on a phone and a desk, light and dark."""

from __future__ import annotations

import os
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from inspection.fieldwork.climate import logger_files
from tests.cast import Cast
from tests.fieldwork.test_logger_files import DRY, WET, lines, stored
from tests.fieldwork.test_stations import HOUR, MORNING, a_station, read

PICTURES = os.environ.get("PICTURES", "")


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_stations_and_logs_are_read_on_a_phone_and_a_desk(
    cast: Cast, page_as: Callable[..., Any], axe: Callable[[Any], None]
) -> None:
    station = a_station(cast)
    read(
        cast,
        station,
        coats=cast.site.coats[:2],
        warmest_surface_c=Decimal("24.0"),
        wind_m_s=Decimal("4.5"),
        rain="none",
    )
    read(cast, station, at=MORNING + 6 * HOUR, surface_c=Decimal("13.0"))
    file = stored(cast, lines(*[DRY] * 30, *[WET] * 5, *[DRY] * 20), station=station)
    told = {"station": station, "name": "deck.csv", "gap_min": 15, "note": ""}
    held = logger_files.hold(cast.ines, content=lines(DRY, "20;sixty;18"), **told)
    unread = logger_files.hold(cast.ines, content=lines(DRY, WET, head="When;A;B;C"), is_read=False, **told)
    addresses = {
        "list": reverse("station_list", args=[cast.site.project.pk]),
        "new": reverse("station_new", args=[cast.site.project.pk]),
        "station": reverse("station", args=[station.pk]),
        "reading": reverse("station_read", args=[station.pk]),
        "upload": reverse("logger_new", args=[station.pk]),
        "columns": reverse("logger_columns", args=[station.pk, unread]),
        "preview": reverse("logger_preview", args=[station.pk, held]),
        "file": reverse("logger_file", args=[file.pk]),
        "log": f"{reverse('station_log', args=[station.pk])}?begins=2026-03-04T06:00&ends=2026-03-04T16:00",
    }
    for width, dark in ((390, False), (1280, True)):
        page = page_as(cast.ines, width=width, dark=dark)
        for name, address in addresses.items():
            page.goto(address)
            axe(page)
            assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), (name, width)
            if PICTURES:
                page.screenshot(path=f"{PICTURES}/{name}-{width}.png", full_page=True)
