"""Typed readers of environment variables. A missing or wrong one fails at start and says what to write."""

from pathlib import Path

import environ
from django.core.exceptions import ImproperlyConfigured

env = environ.Env()


def text(name: str, default: str = "") -> str:
    """The value of NAME, or the content of the file that NAME_FILE points at (for secrets that are mounted)."""
    path = env.str(f"{name}_FILE", default="")
    if path:
        try:
            return Path(path).read_text().strip()
        except OSError as fault:
            raise ImproperlyConfigured(
                f"{name}_FILE points at {path}, which cannot be read: {fault.strerror}."
            ) from fault
    value: str = env.str(name, default="")
    return value or default


def secret(name: str, advice: str, *, kept: Path | None = None) -> str:
    """As `text`, for what must be set, or may lie in a file of its own (`kept`)."""
    value = text(name)
    if not value and kept and kept.is_file():
        value = kept.read_text().strip()
    if not value:
        raise ImproperlyConfigured(f"Set {name} or {name}_FILE. {advice}")
    return value
