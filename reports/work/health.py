"""/healthz: the process answers. /readyz: it can do its work, with the reason where it cannot."""

from __future__ import annotations

import os
import uuid
from collections.abc import Callable
from datetime import timedelta

from celery import current_app
from django.conf import settings
from django.core.cache import cache
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from accounts import vault
from accounts.installation import COPY, is_the_site
from accounts.models import Letter
from reports.work.jobs import WORKER
from reports.work.models import Heartbeat

# The sweep beats this often; a worker that missed so many in a row is taken for dead.
MISSED_BEATS = 4


@require_safe
@never_cache
def healthz(request: HttpRequest) -> JsonResponse:
    return JsonResponse({"status": "alive"})


@require_safe
@never_cache
def readyz(request: HttpRequest) -> JsonResponse:
    """200 when all is well, else 503; each part is "ok" or says what is wrong."""
    found = {"database": _asked(_database)}
    away = found["database"] != "ok"
    for name, part in IN_DATABASE.items():
        # Each would wait for the database as long again, and a probe has no such patience.
        found[name] = "not asked, for want of the database" if away else _asked(part)
    found |= {name: _asked(part) for name, part in BESIDE_DATABASE.items()}
    ready = all(words == "ok" for words in found.values())
    # Told, but no reason to take a site out of service: records are kept while mail is away.
    found["letters"] = "not asked, for want of the database" if away else _asked(_letters)
    return JsonResponse({"status": "ready" if ready else "not ready", **found}, status=200 if ready else 503)


def _asked(part: Callable[[], str]) -> str:
    # A probe must answer whatever is broken; the type of the fault is enough to begin with and gives nothing away.
    try:
        return part()
    except Exception as fault:
        why = f", {os.strerror(fault.errno)}" if isinstance(fault, OSError) and fault.errno else ""
        return f"failed: {type(fault).__name__}{why}"


def _database() -> str:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return "ok"


def _migrations() -> str:
    executor = MigrationExecutor(connection)
    waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    return "ok" if not waiting else f"{len(waiting)} migrations are not applied; run manage.py migrate"


def _cache() -> str:
    token = uuid.uuid4().hex
    cache.set("readyz", token, 10)
    # Another probe may have written in between; that it reads at all is what counts.
    return "ok" if cache.get("readyz") else "does not keep what is put in"


def _broker() -> str:
    with current_app.connection_for_write() as broker:
        broker.ensure_connection(max_retries=1, timeout=2)
        broker.default_channel.queue_declare(current_app.conf.task_default_queue)
    return "ok"


def _files() -> str:
    """The store takes a file: neither full nor read-only."""
    vault.probe()
    return "ok"


def _worker() -> str:
    beat = Heartbeat.objects.filter(name=WORKER).first()
    if beat is None:
        return "no worker has reported yet; start worker and scheduler"
    silent = timezone.now() - beat.at
    longest = timedelta(seconds=MISSED_BEATS * settings.SWEEP_SECONDS)
    return "ok" if silent <= longest else f"silent for {int(silent.total_seconds())} s; start worker and scheduler"


def _letters() -> str:
    if not is_the_site():
        return COPY
    late = Letter.objects.late(timezone.now())
    oldest = late.order_by("written_at").first()
    if oldest is None:
        return "ok"
    return f"{late.count()} wait to be sent, the oldest since {oldest.written_at:%Y-%m-%d %H:%M} UTC; see /letters/"


IN_DATABASE: dict[str, Callable[[], str]] = {"migrations": _migrations, "worker": _worker}
BESIDE_DATABASE: dict[str, Callable[[], str]] = {"files": _files, "cache": _cache, "broker": _broker}
