"""A recall preview and a trace page against SQL by hand for the same answer, and against themselves on a smaller base.

The hand-written side is what somebody would type who knows the tables: one statement for the counts, the newest of each
kind and whom to tell, and not a line of Python over it. Our side is the whole page, rights, template and all.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from datetime import timedelta
from statistics import median
from typing import Any

from django.conf import settings
from django.db import connection
from django.db.models import Model
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.models import Person
from inspection.fieldwork.actions import record_thickness
from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.models import Latest, Record, ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.foundation.statement import over_tables
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.instruments.models import (
    Certificate,
    CertifiedValue,
    Gauge,
    ReferenceStandard,
    StandardUse,
    Verification,
    VerificationPoint,
)
from inspection.projects.models import InspectionArea
from inspection.recall.foreseen import touched_by
from inspection.standing.models import Standing
from inspection.trace.kinds import kind_named
from inspection.trace.queries import rests_on_it
from reports.daily.models import Basis, ReportIssue
from reports.demo.history import generate
from tests import services
from tests.bench import Row, best_of

SMALL, LARGE = int(os.environ.get("BENCH_SMALL", "1000000")), int(os.environ.get("BENCH_LARGE", "10000000"))
IN_QUESTION = Standing.State.IN_QUESTION
TABLES: dict[str, type[Model]] = {
    "certified_value": CertifiedValue, "standard_use": StandardUse, "verification_point": VerificationPoint,
    "verification": Verification, "standing": Standing, "record": Record, "latest": Latest, "area": InspectionArea,
    "hold_point": HoldPoint, "decision": Decision, "issue": ReportIssue, "basis": Basis,
}  # fmt: skip
CHECKS = """
    SELECT DISTINCT point.verification_id AS id
    FROM {certified_value} value
    JOIN {standard_use} used ON used.certified_value_id = value.id
    JOIN {verification_point} point ON point.id = used.point_id
"""
RECALL = over_tables(
    f"""
    WITH v AS MATERIALIZED ({CHECKS} WHERE value.certificate_id = %s),
    t AS MATERIALIZED (
        SELECT record_id AS id FROM {{standing}} WHERE state <> '{IN_QUESTION}' AND opening_id IN (SELECT id FROM v)
        UNION
        SELECT record_id FROM {{standing}} WHERE state <> '{IN_QUESTION}' AND closing_id IN (SELECT id FROM v)
    ),
    r AS MATERIALIZED (
        SELECT r.id, r.project_id, r.area_id, r.coat_id, r.taken_by_id, r.taken_at, r.reading_count
        FROM t JOIN {{record}} r ON r.id = t.id
    ),
    p AS MATERIALIZED (
        SELECT DISTINCT h.id FROM r JOIN {{hold_point}} h
            ON h.area_id = r.area_id AND h.coat_id = r.coat_id AND h.state = '{HoldPoint.State.RELEASED}'
        JOIN {{latest}} n ON n.record_id = r.id
    ),
    i AS MATERIALIZED (SELECT DISTINCT b.issue_id AS id FROM r JOIN {{basis}} b ON b.thing = r.id)
    SELECT 'project', project_id, count(*), sum(reading_count) FROM r GROUP BY project_id
    UNION ALL SELECT * FROM (
        SELECT 'verification', c.id, count(*) OVER (), 0 FROM v JOIN {{verification}} c ON c.id = v.id
        WHERE c.verdict = '{Verification.Verdict.PASS}' ORDER BY c.taken_at DESC LIMIT 25) a
    UNION ALL SELECT * FROM (SELECT 'thickness', id, count(*) OVER (), 0 FROM r ORDER BY taken_at DESC LIMIT 25) b
    UNION ALL SELECT * FROM (SELECT 'holdpoint', id, count(*) OVER (), 0 FROM p ORDER BY id DESC LIMIT 25) c
    UNION ALL SELECT * FROM (
        SELECT 'report', x.id, count(*) OVER (), 0 FROM i JOIN {{issue}} x ON x.id = i.id
        ORDER BY x.issued_at DESC LIMIT 25) d
    UNION ALL SELECT DISTINCT 'person', taken_by_id, 0, 0 FROM r
    UNION ALL SELECT DISTINCT 'person', d.person_id, 0, 0 FROM p JOIN {{decision}} d ON d.point_id = p.id
""",
    **TABLES,
)
TRACE = over_tables(
    f"""
    WITH v AS MATERIALIZED ({CHECKS} WHERE value.standard_id = %s),
    t AS MATERIALIZED (
        SELECT record_id AS id FROM {{standing}} WHERE opening_id IN (SELECT id FROM v)
        UNION SELECT record_id FROM {{standing}} WHERE closing_id IN (SELECT id FROM v)
    ),
    r AS MATERIALIZED (
        SELECT r.id, r.area_id, r.coat_id, r.taken_at FROM t JOIN {{record}} r ON r.id = t.id
    ),
    a AS MATERIALIZED (SELECT DISTINCT area_id AS id FROM r),
    p AS MATERIALIZED (
        SELECT d.point_id AS id FROM r JOIN {{decision}} d ON d.record_id = r.id
        UNION
        SELECT h.id FROM r JOIN {{hold_point}} h ON h.area_id = r.area_id AND h.coat_id = r.coat_id
        WHERE NOT EXISTS (SELECT 1 FROM {{decision}} d WHERE d.point_id = h.id)
    ),
    i AS MATERIALIZED (
        SELECT issue_id AS id FROM {{basis}} WHERE kind = '{ThicknessRecord.KIND}' AND thing IN (SELECT id FROM r)
        UNION SELECT issue_id FROM {{basis}} WHERE kind = 'verification' AND thing IN (SELECT id FROM v)
        UNION SELECT issue_id FROM {{basis}} WHERE kind = 'holdpoint' AND thing IN (SELECT id FROM p)
    )
    SELECT * FROM (SELECT 'verification', c.id, count(*) OVER () FROM v JOIN {{verification}} c ON c.id = v.id
        ORDER BY c.taken_at DESC LIMIT 25) v1
    UNION ALL SELECT * FROM (SELECT 'thickness', id, count(*) OVER () FROM r ORDER BY taken_at DESC LIMIT 25) r1
    UNION ALL SELECT * FROM (SELECT 'area', x.id, count(*) OVER () FROM a JOIN {{area}} x ON x.id = a.id
        ORDER BY x.code LIMIT 25) a1
    UNION ALL SELECT * FROM (SELECT 'holdpoint', id, count(*) OVER () FROM p ORDER BY id DESC LIMIT 25) p1
    UNION ALL SELECT * FROM (SELECT 'report', x.id, count(*) OVER () FROM i JOIN {{issue}} x ON x.id = i.id
        ORDER BY x.issued_at DESC LIMIT 25) i1
""",
    **TABLES,
)


def by_hand(sql: str, pk: Any) -> dict[str, int]:
    """How many of each kind there are, as the statement answers it."""
    with connection.cursor() as cursor:
        cursor.execute(sql, [pk])
        return {label: many for label, _, many, *_ in cursor.fetchall() if label != "project"}


# What another process does meanwhile; it says when it begins, and takes back what it did.
RECALL_ALL = """
from django.db import transaction
from accounts.models import Person
from inspection.instruments.models import Certificate
from inspection.recall.actions import recall
by, paper = Person.objects.filter(grants__role="quality_manager")[0], Certificate.objects.get(number="HS-1-0")
with transaction.atomic():
    print("begun", flush=True)
    recall(by, certificate=paper, reason="oven at fault")
    transaction.set_rollback(True)
"""


def run() -> list[Row]:
    settings.ALLOWED_HOSTS = ["testserver"]
    generate(SMALL, 1)
    paper = Certificate.objects.get(number="HS-1-0")
    shim = ReferenceStandard.objects.filter(certified_values__certificate=paper)[0]
    small = _seconds(paper, shim)
    generate(LARGE - SMALL, 2)
    large = _seconds(paper, shim)
    alone, beside, slowest = _recording()
    manager = Person.objects.filter(grants__role="quality_manager")[0]
    many = f"{touched_by(paper, manager).readings:,} of {LARGE:,} readings"
    return [
        (f"recall of {many}: preview page against SQL by hand", large["recall"] / large["recall by hand"], "≤ 1.5"),
        (f"trace page over {many}, against SQL by hand", large["trace"] / large["trace by hand"], "≤ 1.5"),
        (f"the same preview page against itself among {SMALL:,}", large["recall"] / small["recall"], "≤ 1.3"),
        (f"the same trace page against itself among {SMALL:,}", large["trace"] / small["trace"], "≤ 1.3"),
        ("a measurement recorded while that recall is done, against recorded alone", beside / alone, "≤ 2"),
        ("the slowest of them, against the median recorded alone", slowest / alone, ""),
    ]


def _recording() -> tuple[float, float, float]:
    """Median seconds of recording one measurement alone and beside a recall, and of the slowest beside it."""
    gauge = Gauge.objects.get(identity="H2-0-G0")
    area = InspectionArea.objects.filter(structure__project__code="H2-0-1").select_related("structure__project")[0]
    inspector = Person.objects.get(email="history-inspector-2-0@example.com")
    coat = area.system.coats.order_by("order")[0]

    def record() -> float:
        now, started = timezone.now(), time.perf_counter()
        record_thickness(
            inspector, id=new_id(), project=area.structure.project, area=area, coat=coat, gauge=gauge,
            profile_way="adjusted", unit="um", first_reading_at=now - timedelta(minutes=10), last_reading_at=now,
            readings=[ReadingSent(spot, 1, 100_000 + 100 * spot) for spot in range(1, 51)], source="api",
        )  # fmt: skip
        return time.perf_counter() - started

    alone = median(record() for _ in range(30))
    shell = [sys.executable, "manage.py", "shell", "--verbosity=0", "-c", RECALL_ALL]
    with subprocess.Popen(shell, stdout=subprocess.PIPE, text=True, cwd=services.ROOT) as recall:
        assert recall.stdout
        assert "begun" in recall.stdout.readline()
        beside = []
        while recall.poll() is None:
            beside.append(record())
    assert recall.returncode == 0
    return alone, median(beside), max(beside)


def _seconds(paper: Certificate, shim: ReferenceStandard) -> dict[str, float]:
    with connection.cursor() as cursor:
        cursor.execute("VACUUM ANALYZE")
    manager = Person.objects.filter(grants__role="quality_manager")[0]
    _same_answers(paper, shim, manager)
    client = Client()
    client.force_login(manager)

    def page(name: str, *arguments: Any) -> None:
        assert client.get(reverse(name, args=arguments)).status_code == 200

    return best_of(
        {
            "recall": lambda: page("recall", paper.pk),
            "recall by hand": lambda: by_hand(RECALL, paper.pk),
            "trace": lambda: page("trace_of", "standard", shim.pk),
            "trace by hand": lambda: by_hand(TRACE, shim.pk),
        }
    )


def _same_answers(paper: Certificate, shim: ReferenceStandard, manager: Person) -> None:
    """Both sides must find the same before their times are compared."""
    preview = {layer.kind.name: layer.total for layer in touched_by(paper, manager).layers}
    assert preview == {kind: many for kind, many in by_hand(RECALL, paper.pk).items() if kind != "person"}
    kind = kind_named("standard")
    assert kind is not None
    above = {layer.kind.name: layer.total for layer in rests_on_it(shim, kind, manager)}
    assert above == by_hand(TRACE, shim.pk)
