"""The files of the field app, and the version that stands for all of them.

Kept by the worker as a whole or not at all: each file is held against the digest told here, so that a phone never runs
modules of two versions.
"""

from __future__ import annotations

import base64
import hashlib
import threading
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.template.loader import render_to_string

FOLDER = "field"
WORKER = Path(__file__).with_name("worker.js")
BESIDE = ("css/house.css", "css/field.css")
KINDS = frozenset({".js", ".css", ".svg", ".png", ".json"})


@dataclass(frozen=True)
class App:
    """One version: its name, and the address of each file with the SHA-256 of its bytes, base64."""

    version: str
    files: dict[str, str]


_made: dict[tuple[tuple[str, int, int], ...], App] = {}
_lock = threading.Lock()


def app() -> App:
    """The version on this machine's disk; read again only where a file changed."""
    paths = sorted(_paths(), key=str)
    told = tuple((str(path), path.stat().st_size, path.stat().st_mtime_ns) for path in [*paths, WORKER])
    with _lock:
        if told not in _made:
            _made.clear()
            _made[told] = _read(paths)
        return _made[told]


def _paths() -> list[Path]:
    static = Path(settings.BASE_DIR) / "static"
    own = [path for path in (static / FOLDER).rglob("*") if path.suffix in KINDS and path.is_file()]
    return [*own, *(static / name for name in BESIDE)]


def _read(paths: list[Path]) -> App:
    static, files = Path(settings.BASE_DIR) / "static", {}
    for path in paths:
        digest = base64.b64encode(hashlib.sha256(path.read_bytes()).digest()).decode()
        # Not by the hashed name: modules name each other as they are called, and the version stands in the worker.
        files[f"{settings.STATIC_URL}{path.relative_to(static).as_posix()}"] = digest
    whole = "".join(f"{address} {digest}\n" for address, digest in files.items()) + page(version="") + worker()
    return App(hashlib.sha256(whole.encode()).hexdigest()[:16], files)


def worker() -> str:
    """The worker without its head."""
    return WORKER.read_text(encoding="utf-8")


def page(*, version: str) -> str:
    """The one page of the app, which holds nothing of anybody."""
    return render_to_string("fieldapp/app.html", {"version": version, "static": settings.STATIC_URL})
