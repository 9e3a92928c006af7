"""Addresses that are themselves a key: whoever reads one in a log could open the door with it.

Invitations, password resets and calendar feeds carry their secret in the path. No log line of the site, of its web
server or of the proxy in front holds more than the room's name; docker/proxy.conf says the same to nginx.
"""

from __future__ import annotations

import logging
import re
from typing import Any

SECRET_ADDRESS = re.compile(r"""(/|%2F)(invitation|password|calendar)\1[^/?#&\s"'<>]+""", re.IGNORECASE)
LEFT_OUT = r"\1\2\1[left out]"


def masked(text: str) -> str:
    """The text with the secret part of every such address left out."""
    return SECRET_ADDRESS.sub(LEFT_OUT, text)


def is_secret(path: str) -> bool:
    return SECRET_ADDRESS.match(path) is not None


def mask_line(logger: Any, method: str, line: Any) -> Any:
    """The last of the log's processors: what it is given is the whole line, with any traceback."""
    return masked(line) if isinstance(line, str) else line


class MaskedRecords(logging.Filter):
    """For loggers that do not end in the site's own handler."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.msg, record.args = masked(record.getMessage()), ()
        return True
