"""What a site of 0.1 stored comes to the present with every digest, decision and paper as it was."""

from __future__ import annotations

import gzip
import json
import os
import sqlite3
import subprocess
import sys
import tarfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import psycopg
from django.db import connection

from tests import services
from tests.upgrade.store import KEPT, SETTINGS


@contextmanager
def on_sqlite(dump: str, folder: Path) -> Iterator[str]:
    path = folder / "stripecoat.sqlite3"
    with closing(sqlite3.connect(path)) as database:
        database.executescript(dump)
    yield f"sqlite:///{path}"


@contextmanager
def on_postgresql(dump: str, _: Path) -> Iterator[str]:
    """A database of its own beside the one of the tests."""
    of, name = connection.settings_dict, f"upgraded_{os.getpid()}"
    server = f"postgres://{of['USER']}:{of['PASSWORD']}@{of['HOST']}:{of['PORT']}"
    with psycopg.connect(f"{server}/postgres", autocommit=True) as admin:
        admin.execute(f"CREATE DATABASE {name}")
        try:
            with psycopg.connect(f"{server}/{name}") as database:
                database.execute(dump)
            yield f"{server}/{name}"
        finally:
            admin.execute(f"DROP DATABASE {name} WITH (FORCE)")


def brought_to_the_present(folder: Path) -> dict[str, Any]:
    """What the present code finds after its migrations ran over what is kept of the engine of this run."""
    engine = connection.vendor
    load = {"sqlite": on_sqlite, "postgresql": on_postgresql}[engine]
    with tarfile.open(KEPT / f"{engine}.var.tar.xz") as beside:
        beside.extractall(folder, filter="data")
    with load(gzip.decompress((KEPT / f"{engine}.sql.gz").read_bytes()).decode(), folder) as url:
        env = {**os.environ, **SETTINGS, "VAR_DIR": str(folder), "DATABASE_URL": url}
        env = {**env, "DJANGO_SETTINGS_MODULE": "config.settings", "REDIS_URL": ""}
        done = subprocess.run(
            [sys.executable, "-m", "tests.upgrade.upgraded"],
            cwd=services.ROOT,
            env=env,
            capture_output=True,
            check=False,
        )
    assert done.returncode == 0, done.stderr.decode()
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def test_what_0_1_stored_is_the_same_after_the_migrations_of_the_present(tmp_path: Path) -> None:
    found = brought_to_the_present(tmp_path)
    stored = json.loads((KEPT / f"{connection.vendor}.json").read_text())
    assert found["verify"] == "Nothing differs from what was recorded."
    assert found["standing"].startswith("10 records, 0 stored otherwise"), found["standing"]
    assert {name: found["digests"][name] for name in stored} == stored
    assert set(found["pages"].values()) == {200}, found["pages"]
    assert len(found["pages"]) == 7
    assert found["taken"] == []
    assert [party.split()[1] for party in found["parties"]] == ["client", "contractor", "inspection"] * 2, found
