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


def secret(name: str, advice: str) -> str:
    """As `text`, for what must be set."""
    value = text(name)
    if not value:
        raise ImproperlyConfigured(f"Set {name} or {name}_FILE. {advice}")
    return value
