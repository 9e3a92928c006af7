"""Every page that lists something stays small, and asks no more of the database, however many rows there are."""

from __future__ import annotations

import copy
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from accounts.models import JournalEntry
from inspection.fieldwork.actions import record_climate, record_thickness
from inspection.fieldwork.models import ClimateRecord, Latest, Record, ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.holdpoints.models import HoldPoint
from inspection.projects.models import InspectionArea
from inspection.standing.models import Standing
from tests.cast import Cast
from tests.fieldwork.build import sent

LARGEST = 150_000
# A form that chooses one of 2,000 areas names each of them.
LARGEST_CHOICE = 250_000
CHOOSING = {"start", "upload", "climate", "plan"}
AREAS, RECORDS = 2_000, 1_000


def many(row: Any, count: int, **changes: Any) -> list[Any]:
    """The row so many times more, each with an id of its own."""
    rows = [copy.copy(row) for _ in range(count)]
    for number, one in enumerate(rows):
        one.pk, one.id = (new_id(),) * 2
        one._state = copy.copy(row._state)
        one._state.adding = True
        for name, change in changes.items():
            setattr(one, name, change(number) if callable(change) else change)
    if not isinstance(row, Record):
        return list(type(row)._default_manager.bulk_create(rows))
    for one in rows:
        one.save()
    Latest.objects.bulk_create(
        Latest(area_id=one.area_id, coat_id=one.coat_id, kind=one.kind, record_id=one.id) for one in rows
    )
    return rows


@pytest.fixture
def first(in_date: Any, cast: Cast) -> dict[str, Any]:
    """One of each kind of row, of today."""
    now = timezone.now()
    at: dict[str, Any] = {"first_reading_at": now - timedelta(minutes=2), "last_reading_at": now - timedelta(minutes=1)}
    thickness, _ = record_thickness(cast.ines, **sent(cast, **at))
    climate, _ = record_climate(
        cast.ines, id=new_id(), project=cast.site.project, area=cast.site.area, coat=cast.site.coats[0],
        taken_at=now - timedelta(minutes=1), dry_bulb_c=Decimal(20), wet_bulb_c=Decimal(15), surface_c=Decimal(18),
    )  # fmt: skip
    point = HoldPoint.objects.filter(project=cast.site.project).first() or HoldPoint.objects.create(
        project=cast.site.project, area=cast.site.area, coat=cast.site.coats[0], title="Primer", kind="hold"
    )
    return {"thickness": thickness, "climate": climate, "point": point}


def grow(cast: Cast, first: dict[str, Any]) -> None:
    areas = many(cast.site.area, AREAS, code=lambda number: f"B{number:04}", name=lambda number: f"Bay {number}")
    assert InspectionArea.objects.count() > AREAS
    many(first["point"], RECORDS, area=lambda number: areas[number])
    taken = first["thickness"].taken_at
    at = {"taken_at": lambda number: taken - timedelta(milliseconds=number), "area": lambda number: areas[number]}
    thickness = many(first["thickness"], RECORDS, digest=lambda number: f"{number:064}", **at)
    many(first["climate"], RECORDS, digest=lambda number: f"{number:064}", **at)
    standing = Standing.objects.get(record=first["thickness"])
    Standing.objects.bulk_create(
        Standing(
            record=row,
            state=standing.state,
            reasons=standing.reasons,
            due_at=standing.due_at,
            computed_at=standing.computed_at,
        )
        for row in thickness
    )
    if connection.vendor == "postgresql":
        # A server in use does it by itself, within a minute of so many rows; not within a test's transaction.
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
    assert ThicknessRecord.objects.count() > RECORDS < ClimateRecord.objects.count() + 1
    assert JournalEntry.objects.exists()


def pages(cast: Cast) -> dict[str, str]:
    of_project = f"?project={cast.site.project.pk}"
    names = (
        "today", "home", "thickness_list", "climate_list", "project_list", "board", "nonconformance_list",
        "report_list", "decisions", "equipment", "certificate_list", "verification_list", "journal", "people",
    )  # fmt: skip
    found = {name: reverse(name) for name in names}
    project = [cast.site.project.pk]
    return found | {
        "thickness of a project": found["thickness_list"] + of_project,
        "board of a project": found["board"] + of_project,
        "project": reverse("project", args=project),
        "start": reverse("thickness_start", args=project),
        "upload": reverse("thickness_upload", args=project),
        "climate": reverse("climate_new", args=project),
        "plan": reverse("points_plan", args=project),
        "api": "/api/thickness/",
    }


def test_pages_stay_small_and_ask_as_much_with_thousands_of_rows(
    client: Client, cast: Cast, first: dict[str, Any]
) -> None:
    client.force_login(cast.quinn)
    asked: dict[str, list[int]] = {}
    sizes: dict[str, int] = {}
    for more in (False, True):
        if more:
            grow(cast, first)
        for name, address in pages(cast).items():
            client.get(address, follow=True)
            with CaptureQueriesContext(connection) as queries:
                answer = client.get(address, follow=True)
            assert answer.status_code == 200, name
            asked.setdefault(name, []).append(len(queries))
            sizes[name] = len(answer.content)
    large = {name: LARGEST_CHOICE if name in CHOOSING else LARGEST for name in sizes}
    assert {name: size for name, size in sizes.items() if size > large[name]} == {}
    # A pager, a filter or a further sentence may ask once more; nothing may ask once for each row.
    assert {name: counts for name, counts in asked.items() if counts[1] > counts[0] + 3} == {}
