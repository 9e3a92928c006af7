"""What the cache keeps: JSON, never a pickle, which would run as code for whoever can write to the cache."""

from __future__ import annotations

import fcntl
import json
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from django.core.cache.backends.base import DEFAULT_TIMEOUT
from django.core.cache.backends.filebased import FileBasedCache


class JsonSerializer:
    """For Django's Redis cache. Whole numbers go as they are, so that Redis can count them."""

    def dumps(self, value: Any) -> bytes | int:
        return value if type(value) is int else json.dumps(value).encode()

    def loads(self, kept: bytes) -> Any:
        return json.loads(kept)


class JsonFiles(FileBasedCache):
    """Django's cache of files, each a line with the moment it ends (seconds since 1970, or null) and the value."""

    # Inherited; declared for the type checker, whose stubs do not know them.
    _key_to_file: Callable[[str, int | None], str]
    _delete: Callable[[str], None]
    _createdir: Callable[[], None]
    _dir: str

    def get(self, key: str, default: Any = None, version: int | None = None) -> Any:
        try:
            with Path(self._key_to_file(key, version)).open("rb") as file:
                return default if self._is_expired(file) else json.loads(file.read())
        except FileNotFoundError:
            return default

    def add(self, key: str, value: Any, timeout: Any = DEFAULT_TIMEOUT, version: int | None = None) -> bool:
        with self._alone():
            return super().add(key, value, timeout, version)

    def incr(self, key: str, delta: int = 1, version: int | None = None) -> int:
        """Count up, whoever else counts, and end at the moment that was set; ValueError for what is not there."""
        with self._alone():
            if self.get(key, version=version) is None:
                raise ValueError(f"Key {key!r} not found")
            ends, value = map(json.loads, Path(self._key_to_file(key, version)).read_bytes().split(b"\n", 1))
            counted: int = value + delta
            self.set(key, counted, None if ends is None else ends - time.time(), version)
            return counted

    @contextmanager
    def _alone(self) -> Iterator[None]:
        """One thread of one process at a time."""
        self._createdir()
        with (Path(self._dir) / "counting.lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            yield

    def touch(self, key: str, timeout: Any = DEFAULT_TIMEOUT, version: int | None = None) -> bool:
        nothing = object()
        value = self.get(key, nothing, version)
        if value is nothing:
            return False
        self.set(key, value, timeout, version)
        return True

    def _write_content(self, file: IO[bytes], timeout: Any, value: Any) -> None:
        file.write(json.dumps(self.get_backend_timeout(timeout)).encode() + b"\n" + json.dumps(value).encode())

    def _is_expired(self, file: IO[bytes]) -> bool:
        try:
            ends = json.loads(file.readline())
        except ValueError:
            ends = 0  # unfinished, or of another form
        if ends is None or ends >= time.time():
            return False
        self._delete(file.name)
        return True
