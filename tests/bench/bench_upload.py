"""Uploading 10,000 readings by the API against a bare COPY of the same rows; judging a whole upload.

Each upload brings other readings, as measuring does.
"""

from __future__ import annotations

import json
import uuid
from datetime import timedelta
from typing import Any

import numpy as np
from django.db import connection, transaction
from django.test import Client

from inspection.fieldwork.judging import ReadingSent, judge
from inspection.fieldwork.models import Reading
from inspection.foundation.ids import new_id
from inspection.projects.models import InspectionArea
from tests.bench import bench_standards, best_of
from tests.cast import MORNING, cast

READINGS = 10_000
AIM = "≤ 8"
ROUNDS = 8


def body(people: Any, values: list[int]) -> bytes:
    """One record of 3,334 spots, as a gauge's program would send it."""
    site = people.site
    return json.dumps(
        {
            "id": str(new_id()),
            "project": str(site.project.pk),
            "area": str(site.area.pk),
            "coat": str(site.coats[0].pk),
            "gauge": str(people.gauge.pk),
            "profile_way": "adjusted",
            "first_reading_at": MORNING.isoformat(),
            "last_reading_at": (MORNING + timedelta(hours=9)).isoformat(),
            "readings": [
                {"spot": place // 3 + 1, "reading": place % 3 + 1, "value_um": value / 1000}
                for place, value in enumerate(values)
            ],
        }
    ).encode()


def _measured(rng: np.random.Generator) -> list[int]:
    return [int(value) * 100 for value in rng.normal(900, 60, READINGS)]


def run() -> list[tuple[str, float, str]]:
    people = cast()
    # So large a tank that SSPC-PA 2 wants this many spots of it.
    InspectionArea.objects.filter(pk=people.site.area.pk).update(area_m2=22_000)
    rng = np.random.default_rng(3)
    values = _measured(rng)
    client = Client()
    client.force_login(people.ines)
    stored: list[uuid.UUID] = []

    def by_api() -> None:
        answer = client.post("/api/thickness/", bodies.pop(), content_type="application/json")
        assert answer.status_code == 201, answer.content[:500]
        stored.append(uuid.UUID(answer.json()["id"]))

    def by_copy() -> None:
        rows = "".join(
            f"{stored[0]}\t{10_000 + place // 3}\t{place % 3}\t{value}\t\n" for place, value in enumerate(values)
        )
        table = Reading._meta.db_table
        with transaction.atomic(), connection.cursor() as cursor:
            with cursor.copy(f'COPY {table} (record_id, spot, "order", value_nm, void_reason) FROM STDIN') as copy:
                copy.write(rows)
            transaction.set_rollback(True)

    bodies = [body(people, _measured(rng)) for _ in range(1 + ROUNDS)]
    by_api()
    best = best_of({"api": by_api, "copy": by_copy}, ROUNDS)
    return [
        ("10,000 readings by the API, against a bare COPY of the rows", best["api"] / best["copy"], AIM),
        _judged_whole(people),
    ]


def _judged_whole(people: Any) -> tuple[str, float, str]:
    """A full record through the function that every page and request judges by: inputs, answer and all."""
    readings, spots, areas = bench_standards.generated()[0]
    sent = [
        ReadingSent(spot, place % 15 + 1, value)
        for place, (value, spot) in enumerate(zip(readings.tolist(), (spots + 1).tolist(), strict=True))
    ]
    best = best_of({
        "ours": lambda: judge(people.site.coats[0], people.site.area, sent, 0),
        "pandas": lambda: bench_standards.by_pandas(readings, spots, areas),
    }, 3)  # fmt: skip
    what = "100,000 readings judged with each spot and area told, against a pandas groupby of them"
    return (what, best["ours"] / best["pandas"], "")
