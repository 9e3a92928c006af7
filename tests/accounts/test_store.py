"""Files of record survive a kill and a full disk: what the store names is whole; what is half-written is never used."""

from __future__ import annotations

import hashlib
import os
import signal
import subprocess
import sys
import textwrap
import time
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts import vault
from accounts.models import StoredFile
from inspection.foundation.refusals import OutOfService
from inspection.foundation.storage import UNFINISHED
from inspection.instruments.models import Certificate
from tests.cast import Cast
from tests.instruments.test_certificate_pages import sent
from tests.services import ROOT

pytestmark = pytest.mark.django_db
PAPER = b"%PDF-1.4 " + b"a certificate " * 70_000


def stored(content: bytes) -> StoredFile:
    return vault.store(content, name="certificate.pdf", media_type="application/pdf", by=None)


def place_of(file: StoredFile) -> Path:
    return Path(settings.FILES_DIR) / vault.path_of(file.digest)


def test_a_truncated_file_is_not_taken_for_the_upload_of_the_same_bytes() -> None:
    file = stored(PAPER)
    place_of(file).write_bytes(PAPER[:1000])
    assert vault.content_of(stored(PAPER)) == PAPER


def test_a_file_that_was_only_begun_is_no_file_of_record_and_is_cleared_once_it_is_old() -> None:
    file = stored(PAPER)
    begun = place_of(file).with_name(f"{UNFINISHED}x")
    begun.write_bytes(PAPER[:1000])
    call_command("files", "--clear")
    assert begun.exists(), "another process may be writing it"
    old = (timezone.now() - timedelta(hours=2)).timestamp()
    os.utime(begun, (old, old))
    call_command("files", "--clear")
    assert not begun.exists()
    assert vault.content_of(file) == PAPER


WRITER = """
    import hashlib, os, sys
    import django
    django.setup()
    from django.core.files.base import ContentFile
    from django.core.files.storage import default_storage
    from accounts.vault import path_of
    print("ready", flush=True)
    for number in range(1_000_000):
        content = b"%d " % number * 300_000
        default_storage.save(path_of(hashlib.sha256(content).hexdigest()), ContentFile(content))
"""


@pytest.mark.once
def test_whatever_moment_a_writer_is_killed_each_name_holds_what_it_says(tmp_path: Path) -> None:
    env = {**os.environ, "DJANGO_SETTINGS_MODULE": "config.settings", "VAR_DIR": str(tmp_path), "DATABASE_URL": ""}
    for wait_s in (0.05, 0.11, 0.2, 0.32):
        writer = subprocess.Popen(
            [sys.executable, "-c", textwrap.dedent(WRITER)], cwd=ROOT, env=env, stdout=subprocess.PIPE
        )
        assert writer.stdout
        assert writer.stdout.readline() == b"ready\n"
        time.sleep(wait_s)
        writer.send_signal(signal.SIGKILL)
        writer.wait()
    names = [path for path in (tmp_path / "files").rglob("*") if path.is_file()]
    whole = [path for path in names if not path.name.startswith(UNFINISHED)]
    assert whole, "nothing was written before the kill"
    for path in whole:
        assert hashlib.sha256(path.read_bytes()).hexdigest() == path.name


@pytest.fixture
def small_disk(tmp_path: Path, settings: Any) -> Iterator[Path]:
    """The store on a file system of one megabyte of its own."""
    if os.geteuid() != 0:
        pytest.skip("mounting needs root")
    place = tmp_path / "small"
    place.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(place)], check=True)
    store = {"BACKEND": settings.STORAGES["default"]["BACKEND"], "OPTIONS": {"location": place}}
    settings.STORAGES = {**settings.STORAGES, "default": store}
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)


def test_a_full_disk_keeps_nothing_of_a_file_and_says_so_and_later_takes_it_whole(small_disk: Path) -> None:
    ballast = small_disk / "ballast"
    ballast.write_bytes(b"x" * 600_000)
    with pytest.raises(OutOfService, match=r"could not be kept: No space left on device\. Nothing was recorded"):
        stored(PAPER)
    assert not StoredFile.objects.exists()
    assert [path for path in small_disk.rglob("*") if path.is_file()] == [ballast]
    ballast.unlink()
    assert vault.content_of(stored(PAPER)) == PAPER


def test_a_certificate_sent_while_the_disk_is_full_is_not_recorded_and_readiness_tells(
    small_disk: Path, cast: Cast, client: Client
) -> None:
    (small_disk / "ballast").write_bytes(b"x" * 1_040_000)
    client.force_login(cast.quinn)
    paper = SimpleUploadedFile("c-77.pdf", PAPER, "application/pdf")
    answer = client.post(reverse("certificate_new"), sent(cast, number="C-77", file=paper))
    assert answer.status_code == 422
    assert "could not be kept: No space left on device" in answer.content.decode()
    assert not Certificate.objects.filter(number="C-77").exists()
    ready = client.get("/readyz")
    assert (ready.status_code, ready.json()["files"]) == (503, "failed: OSError, No space left on device")


def test_a_store_that_cannot_be_written_shows_in_readiness(small_disk: Path, client: Client) -> None:
    assert client.get("/readyz").json()["files"] == "ok"
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    assert client.get("/readyz").json()["files"] == "failed: OSError, Read-only file system"
