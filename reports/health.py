"""/healthz: the process answers. /readyz: it can do its work, with the reason where it cannot."""

from __future__ import annotations

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

from reports.jobs import WORKER
from reports.models import Heartbeat

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
    parts: dict[str, Callable[[], str]] = {
        "database": _database, "migrations": _migrations, "cache": _cache, "broker": _broker, "worker": _worker,
    }  # fmt: skip
    found = {name: _asked(part) for name, part in parts.items()}
    ready = all(words == "ok" for words in found.values())
    return JsonResponse({"status": "ready" if ready else "not ready", **found}, status=200 if ready else 503)


def _asked(part: Callable[[], str]) -> str:
    # A probe must answer whatever is broken; the type of the fault is enough to begin with and gives nothing away.
    try:
        return part()
    except Exception as fault:
        return f"failed: {type(fault).__name__}"


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


def _worker() -> str:
    beat = Heartbeat.objects.filter(name=WORKER).first()
    if beat is None:
        return "no worker has reported yet; start worker and scheduler"
    silent = timezone.now() - beat.at
    longest = timedelta(seconds=MISSED_BEATS * settings.CELERY_BEAT_SCHEDULE["sweep"]["schedule"])
    return "ok" if silent <= longest else f"silent for {int(silent.total_seconds())} s; start worker and scheduler"
