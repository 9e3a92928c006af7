"""`python -m tests.upgrade.store`: keep a small database as 0.1 stored it, of both engines, for the upgrade test.

It was run once, when 0.1 was what it is, and is not run again: what it kept is what people have. It says how that was
made: by the code of 0.1, in a checkout of its commit, with the scene beside this file.
"""

from __future__ import annotations

import gzip
import os
import re
import sqlite3
import subprocess
import sys
import tarfile
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from tests import services

COMMIT = "9b32d8e"
HERE = Path(__file__).parent
KEPT = HERE / "stored_0_1"
SETTINGS = {"SECRET_KEY": "of the stored 0.1", "PLAIN_HTTP": "1"}
# Of VAR_DIR: the files of record, the keys, and how far the chain of the journal had come.
OF_VAR = ("files", "keys", "journal-head")


@contextmanager
def checkout(folder: Path) -> Iterator[Path]:
    """The code of 0.1, as long as the context lasts."""
    place = folder / "0.1"
    git = ["git", "-C", str(services.ROOT), "worktree"]
    subprocess.run([*git, "add", "--quiet", "--detach", str(place), COMMIT], check=True)
    try:
        yield place
    finally:
        subprocess.run([*git, "remove", "--force", str(place)], check=True)


def keep(engine: str, code: Path, var: Path, url: str, dump: Callable[[str], str]) -> None:
    """Play the scene in an empty database, and keep its dump, its digests and what lies beside it."""
    var.mkdir()
    env = {**os.environ, **SETTINGS, "PYTHONPATH": str(code), "VAR_DIR": str(var), "DATABASE_URL": url}
    for command in (["manage.py", "migrate", "--verbosity=0"], [str(HERE / "scene.py"), str(KEPT / f"{engine}.json")]):
        subprocess.run([sys.executable, *command], cwd=code, env=env, check=True)
    (KEPT / f"{engine}.sql.gz").write_bytes(gzip.compress(dump(url).encode(), mtime=0))
    with tarfile.open(KEPT / f"{engine}.var.tar.xz", "w:xz") as beside:
        for name in OF_VAR:
            beside.add(var / name, name)


def of_sqlite(url: str) -> str:
    with closing(sqlite3.connect(url.removeprefix("sqlite:///"))) as database:
        return "\n".join(database.iterdump()) + "\n"


def of_postgresql(url: str) -> str:
    """As statements that any client can run; a line that begins with a backslash is for psql alone."""
    command = [services.program("pg_dump"), "--no-owner", "--no-privileges", "--inserts", "--rows-per-insert=50", url]
    told = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return re.sub(r"^\\.*\n", "", told, flags=re.MULTILINE)


def main() -> None:
    KEPT.mkdir()  # where something is kept already, it stays what it is
    with tempfile.TemporaryDirectory() as name, checkout(Path(name)) as code:
        var = Path(name) / "sqlite"
        keep("sqlite", code, var, f"sqlite:///{var}/stripecoat.sqlite3", of_sqlite)
        with services.postgresql() as url:
            keep("postgresql", code, Path(name) / "postgresql", url, of_postgresql)


if __name__ == "__main__":
    main()
