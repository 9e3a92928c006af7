"""A Redis that takes connections and never answers is given up within its time-out, by the cache and by the broker."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from tests.services import ROOT

ASKED = """
    import json, time
    import django
    django.setup()
    from uuid import uuid4
    from django.core.cache import cache
    from config.celery import app
    from reports.work.jobs import ring
    began = time.monotonic()
    try:
        kept = cache.get("x")
    except Exception as fault:
        kept = type(fault).__name__
    asked = time.monotonic()
    sent = ring(uuid4())
    print(json.dumps({"kept": kept, "cache_s": asked - began, "sent": sent, "broker_s": time.monotonic() - asked}))
"""


@pytest.mark.once
def test_neither_cache_nor_broker_waits_for_a_redis_that_says_nothing(tmp_path: Path) -> None:
    with socket.socket() as server:
        server.bind(("127.0.0.1", 0))
        server.listen(50)
        env = {
            **os.environ, "DJANGO_SETTINGS_MODULE": "tests.settings", "VAR_DIR": str(tmp_path), "DATABASE_URL": "",
            "REDIS_URL": f"redis://127.0.0.1:{server.getsockname()[1]}/0", "REDIS_TIMEOUT_SECONDS": "0.3",
        }  # fmt: skip
        done = subprocess.run(
            [sys.executable, "-c", textwrap.dedent(ASKED)], cwd=ROOT, env=env, capture_output=True, text=True,
            check=False, timeout=60,
        )  # fmt: skip
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert (told["kept"], told["sent"]) == ("TimeoutError", False)
    assert told["cache_s"] < 5 > told["broker_s"]
