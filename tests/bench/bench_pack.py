"""The field pack of a project of 2,000 areas with three coats each, against 200, and against its bare rows as JSON.

Every coat of every area was measured and has a climate record and a point; two of three points are open, and on every
area a window to the next coat runs. The bare way reads the same tables as values and writes and packs them as they are.
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from accounts.models import Role
from inspection.fieldapp.pack import Pack, pack_of
from inspection.fieldwork.models import Latest, Record
from inspection.foundation.copying import bulk_rows
from inspection.foundation.ids import new_id
from inspection.holdpoints.models import HoldPoint
from inspection.projects.models import Coat, CoatingSystem, InspectionArea, Membership, Party, Project, Structure
from inspection.works.models import Crew, Lot, LotPlace
from tests import cast as casting
from tests.bench import Row, best_of

FEW, MANY = 200, 2_000
COATS = ("Primer", "Intermediate", "Finish")
MB = 1_000_000


def run() -> list[Row]:
    with transaction.atomic():
        cast = casting.cast()
        few, many = measured(cast, "FEW", FEW), measured(cast, "MANY", MANY)
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
        packs: dict[str, Pack] = {}

        def packed(name: str, project: Project) -> Callable[[], Any]:
            def made() -> bytes:
                packs[name] = pack_of(cast.ines, project, timezone.now())
                return packs[name].packed

            return made

        ways = {"pack": packed("pack", many), "few": packed("few", few), "bare": lambda: bare(many)}
        with CaptureQueriesContext(connection) as caught:
            ways["pack"]()
        with CaptureQueriesContext(connection) as fewer:
            ways["few"]()
        seconds = best_of(ways, rounds=3)
        size = len(packs["pack"].packed)
        transaction.set_rollback(True)
    what = f"field pack of {MANY:,} areas × {len(COATS)} coats"
    return [
        (f"{what}, MB gzipped", size / MB, "≤ 3"),
        (f"{what}, MB unpacked", len(packs["pack"].body) / MB, ""),
        (f"{what}, seconds", seconds["pack"], ""),
        (f"{what}, against its bare rows written and packed", seconds["pack"] / seconds["bare"], "≤ 4"),
        (f"{what}, against {FEW}", seconds["pack"] / seconds["few"], "≤ 15"),
        (f"queries of a {what}, more than of {FEW}", len(caught) - len(fewer), "≤ 0"),
    ]


def bare(project: Project) -> bytes:
    """The same tables as they lie, with nothing joined, judged or left out."""
    tables = [
        InspectionArea.objects.filter(structure__project=project).values(),
        Latest.objects.filter(area__structure__project=project).values(),
        Record.objects.filter(project=project).values("id", "area", "coat", "kind", "verdict", "taken_at"),
        HoldPoint.objects.filter(project=project).values(),
        LotPlace.objects.filter(lot__project=project).values(),
    ]
    return gzip.compress(json.dumps([list(rows) for rows in tables], default=str).encode(), compresslevel=6)


def measured(cast: casting.Cast, code: str, many: int) -> Project:
    """A project in which all coats but the last are on, measured and looked at."""
    now = timezone.now()
    project = Project.objects.create(code=code, name=f"Works {code}", client=cast.owner)
    Membership.objects.create(project=project, person=cast.ines, organisation=cast.company, role=Role.INSPECTOR)
    structure = Structure.objects.create(project=project, name="Tank")
    system = CoatingSystem.objects.create(project=project, name="System", preparation_grade="Sa 2½")
    coats = [
        Coat.objects.create(
            system=system, order=order, name=name, product="Paint", volume_solids_pct=60, minimum_nm=60_000,
            nominal_nm=75_000, maximum_nm=150_000, rule=Coat.Rule.ISO_19840, recoat_min_hours=6, recoat_max_hours=240,
        )
        for order, name in enumerate(COATS, start=1)
    ]  # fmt: skip
    areas = InspectionArea.objects.bulk_create(
        InspectionArea(structure=structure, system=system, code=f"A{n:05}", name=f"Panel {n}", area_m2=9)
        for n in range(many)
    )
    places = [(area, coat) for area in areas for coat in coats]
    records = _records(cast, project, places)
    bulk_rows(Latest, ("area_id", "coat_id", "kind", "record_id"),
              [(area, coat, kind, pk) for pk, area, coat, kind in records])  # fmt: skip
    columns = ("id", "project_id", "area_id", "coat_id", "kind", "title", "state", "further", "lies", "measured",
               "planned_at", "chain_broken")  # fmt: skip
    bulk_rows(HoldPoint, columns, [
        (new_id(), project.pk, area.pk, coat.pk, "hold", f"{coat.name} measured",
         "released" if coat.order == 1 else "waiting", "met", 60 if coat.order == 1 else 40, True, now, False)
        for area, coat in places
    ])  # fmt: skip
    party = Party.objects.get_or_create(
        project=project, organisation=cast.company, kind=Party.Kind.INSPECTION
    )[0]  # fmt: skip
    crew = Crew.objects.create(project=project, party=party, name="Days")
    for number, coat in enumerate(coats[:2], start=1):
        begun = now - timedelta(days=12 - number)
        lot = Lot.objects.create(
            project=project, number=number, activity="coat", method="airless", coat=coat, crew=crew, begun_at=begun,
            ended_at=begun + timedelta(hours=8), entered_by=cast.ines, digest="0" * 64,
        )  # fmt: skip
        LotPlace.objects.bulk_create(LotPlace(lot=lot, area=area, m2=9) for area in areas)
    return project


def _records(cast: casting.Cast, project: Project, places: list[Any]) -> list[Any]:
    now = timezone.now()
    made = [(new_id(), area.pk, coat.pk, kind) for area, coat in places for kind in ("thickness", "climate")]
    columns = (
        "id", "kind", "project_id", "area_id", "coat_id", "taken_by_id", "taken_at", "ended_at", "received_at",
        "source", "purpose", "verdict", "note", "replacement_reason", "digest", "reading_count",
    )  # fmt: skip
    bulk_rows(Record, columns, [
        (pk, kind, project.pk, area, coat, cast.ines.pk, now - timedelta(minutes=place), now, now, "api", "acceptance",
         "pass", "", "", "0" * 64, 15)
        for place, (pk, area, coat, kind) in enumerate(made)
    ])  # fmt: skip
    return made
