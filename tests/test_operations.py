"""docs/operations.md says what is true: its settings exist, its backup comes back."""

from __future__ import annotations

import ast
import os
import re
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import psycopg
import pytest
from django.conf import settings
from django.db import connection, transaction

from accounts import installation, journal, post, vault
from accounts.models import JournalEntry, Person, StoredFile
from tests.cast import Cast
from tests.conftest import address_of_the_test_database
from tests.services import ROOT, program

PAGE = (ROOT / "docs" / "operations.md").read_text(encoding="utf-8")


def commands(heading: str, database: str) -> str:
    """The shell block under a heading that is about this database, then the blocks that are about any."""
    section = PAGE.split(f"\n## {heading}\n")[1].split("\n## ")[0]
    blocks = re.findall(r"```sh\n(.*?)```", section, flags=re.DOTALL)
    of = {"postgresql": blocks[0], "sqlite": blocks[1]}
    return "set -eu\n" + "\n".join([of[database], *blocks[2:]])


def run(script: str, **env: str) -> subprocess.CompletedProcess[str]:
    path = os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]])
    return subprocess.run(
        ["bash", "-c", script], cwd=ROOT, capture_output=True, text=True, check=False,
        env={**os.environ, "DJANGO_SETTINGS_MODULE": "config.settings", "PATH": path, **env},
    )  # fmt: skip


@pytest.fixture
def something_recorded(transactional_db: None, cast: Cast) -> StoredFile:
    assert installation.is_the_site()
    with transaction.atomic():
        journal.record("project.opened", cast.site.project, by=cast.quinn)
        post.write("test", "1", to=cast.clara, subject="A letter", body="To a real person")
        return vault.store(b"a certificate", name="certificate.pdf", media_type="application/pdf", by=cast.quinn)


def test_every_setting_is_in_the_table() -> None:
    asked = set()
    for path in (ROOT / "config").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not (isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant)):
                continue
            if re.fullmatch(r"env\.\w+|text|secret", ast.unparse(node.func)):
                asked.add(node.args[0].value)
    rows = re.findall(r"^\| (`[A-Z][^|]*) \|", PAGE, flags=re.MULTILINE)
    told = {name for row in rows for name in re.findall(r"`([A-Z0-9_]+)`", row)}
    assert len(asked) > 10
    assert told == asked


def writes_to_nobody_until_it_takes_over(folder: Path, **env: str) -> None:
    """What a restored copy must do about letters; `folder` is its VAR_DIR."""
    env |= {"VAR_DIR": str(folder), "EMAIL_URL": ""}
    send = "python manage.py shell --no-imports -c 'from accounts import post; print(post.send_due())'"
    done = run(send, **env)
    assert (done.stdout.strip(), (folder / "mail").exists()) == ("0", False)
    assert "letters are held back" in done.stderr
    done = run("python manage.py take_over", **env)
    assert (done.returncode, "1 letters wait" in done.stderr) == (1, True)
    done = run("python manage.py take_over --send-letters", **env)
    assert "1 letters go out with the next sweep" in done.stdout
    assert run(send, **env).stdout.strip() == "1"
    assert "To a real person" in next((folder / "mail").iterdir()).read_text()
    assert "already" in run("python manage.py take_over", **env).stdout


@pytest.mark.sqlite
def test_a_backup_of_sqlite_comes_back(something_recorded: StoredFile, tmp_path: Path) -> None:
    backup, new = tmp_path / "backup", tmp_path / "new"
    backup.mkdir()
    shutil.copytree(settings.FILES_DIR, tmp_path / "old" / "files")
    with sqlite3.connect(connection.settings_dict["NAME"]) as live:
        live.execute("VACUUM INTO ?", [str(tmp_path / "old" / "stripecoat.sqlite3")])
    done = run(commands("Backup", "sqlite"), BACKUP=str(backup), VAR_DIR=str(tmp_path / "old"))
    assert done.returncode == 0, done.stderr
    done = run(commands("Restore", "sqlite"), BACKUP=str(backup), VAR_DIR=str(new), DATABASE_URL="")
    assert done.returncode == 0, done.stderr
    assert "All 1 entries match" in done.stdout
    assert "All 1 files match" in done.stdout
    with sqlite3.connect(new / "stripecoat.sqlite3") as restored:
        with pytest.raises(sqlite3.IntegrityError, match="append-only"):
            restored.execute("DELETE FROM accounts_journalentry")
        assert restored.execute("SELECT count(*) FROM accounts_person").fetchone() == (Person.objects.count(),)
    assert list((new / "static").rglob("house*.css")), "pages have their style"
    writes_to_nobody_until_it_takes_over(new, DATABASE_URL="")


@pytest.mark.postgresql
def test_a_backup_of_postgresql_comes_back(something_recorded: StoredFile, tmp_path: Path) -> None:
    live = address_of_the_test_database()
    name = f"{connection.settings_dict['NAME']}_restored"
    new = f"{live.rpartition('/')[0]}/{name}"
    with psycopg.connect(live, autocommit=True) as server:
        server.execute(f"DROP DATABASE IF EXISTS {name}")
        server.execute(f"CREATE DATABASE {name}")
    backup = tmp_path / "backup"
    backup.mkdir()
    tools = f"PATH={Path(program('pg_dump')).parent}:$PATH\n"
    done = run(tools + commands("Backup", "postgresql"), BACKUP=str(backup), DATABASE_URL=live)
    assert done.returncode == 0, done.stderr
    done = run(
        tools + commands("Restore", "postgresql"), BACKUP=str(backup), DATABASE_URL=new, VAR_DIR=str(tmp_path / "new")
    )
    assert done.returncode == 0, done.stderr
    assert "All 1 entries match" in done.stdout
    with psycopg.connect(new, autocommit=True) as restored:
        with pytest.raises(psycopg.errors.IntegrityConstraintViolation, match="append-only"):
            restored.execute("DELETE FROM accounts_journalentry")
        count = restored.execute("SELECT count(*) FROM accounts_person").fetchone()
    assert count == (Person.objects.count(),)
    writes_to_nobody_until_it_takes_over(tmp_path / "new", DATABASE_URL=new)
    with psycopg.connect(live, autocommit=True) as server:
        server.execute(f"DROP DATABASE {name}")


@pytest.mark.parametrize("harm", ["altered", "missing"])
def test_checking_the_files_tells_of_one_that_is_harmed(something_recorded: StoredFile, harm: str) -> None:
    path = settings.FILES_DIR / vault.path_of(something_recorded.digest)
    content = path.read_bytes()
    try:
        path.write_bytes(b"another certificate") if harm == "altered" else path.unlink()
        done = run("python manage.py files --check", DATABASE_URL=address_of_the_test_database())
    finally:
        path.write_bytes(content)
    assert done.returncode == 1
    assert something_recorded.digest[:12] in done.stderr
    assert "1 of 1 files are missing or altered" in done.stderr


def test_checking_the_journal_finds_every_entry_true(something_recorded: StoredFile) -> None:
    done = run("python manage.py journal --check", DATABASE_URL=address_of_the_test_database())
    assert (done.returncode, done.stdout) == (0, f"All {JournalEntry.objects.count()} entries match their digests.\n")


@pytest.mark.parametrize(("level", "lines"), [("WARNING", ["heard"]), ("INFO", ["told", "heard"])])
def test_a_log_line_goes_to_standard_error_with_its_request(level: str, lines: list[str]) -> None:
    script = """
import django, logging, structlog
django.setup()
structlog.contextvars.bind_contextvars(request_id="r-1")
structlog.get_logger("one").info("told")
logging.getLogger("two").warning("heard")
"""
    done = run(f"python - <<'END'{script}END", LOG_LEVEL=level)
    assert done.stdout == ""
    said = done.stderr.splitlines()
    assert len(said) == len(lines)
    assert all(word in line and "request_id=r-1" in line for word, line in zip(lines, said, strict=True))
