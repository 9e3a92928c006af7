"""Where files of record lie: whole at their names or not there at all, whatever kills the writer or fills the disk."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

from django.core.files import File
from django.core.files.storage import FileSystemStorage

# A file begins under a name of this kind in its own folder and takes its own name only when it is whole on the disk.
UNFINISHED = ".unfinished-"
# Longer than any write takes: what is older was left by a process that is gone.
LEFT_AFTER = timedelta(hours=1)


class WholeFiles(FileSystemStorage):
    """A folder in which a name once given holds all the bytes; the same name again replaces them in one step."""

    def get_available_name(self, name: str, max_length: int | None = None) -> str:
        return name

    def _save(self, name: str, content: File[bytes]) -> str:
        path = Path(self.path(name))
        _make_folders(path.parent, Path(self.location))
        handle, unfinished = tempfile.mkstemp(prefix=UNFINISHED, dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                for chunk in content.chunks():
                    file.write(chunk)
                file.flush()
                os.fsync(file.fileno())
            Path(unfinished).replace(path)
        except BaseException:
            Path(unfinished).unlink(missing_ok=True)
            raise
        _sync_folder(path.parent)
        return name

    def leftovers(self, at: datetime) -> Iterator[Path]:
        """What killed processes left unfinished; no file of record is among it."""
        for path in Path(self.location).rglob(f"{UNFINISHED}*"):
            if at.timestamp() - path.stat().st_mtime > LEFT_AFTER.total_seconds():
                yield path


def _make_folders(folder: Path, root: Path) -> None:
    """The folder with all above it, each known to the disk: a file in a folder that is lost is lost with it."""
    if folder.is_dir():
        return
    if folder != root:
        _make_folders(folder.parent, root)
    folder.mkdir(parents=folder == root, exist_ok=True)
    _sync_folder(folder.parent)


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
