"""What `manage.py check --deploy` says beyond Django's own: how the site speaks to its database and to Redis."""

from __future__ import annotations

from ipaddress import ip_address
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.checks import Warning as Told
from django.core.checks import register

ENCRYPTED = ("require", "verify-ca", "verify-full")


@register(deploy=True)
def lines_are_encrypted(app_configs: Any, **kwargs: Any) -> list[Told]:
    """Warn of a database or a Redis on another machine that is spoken to without TLS."""
    return unencrypted(settings.DATABASES["default"], settings.REDIS_URL)


def unencrypted(database: dict[str, Any], redis_url: str) -> list[Told]:
    found = []
    mode = database.get("OPTIONS", {}).get("sslmode", "")
    if _elsewhere(database.get("HOST", "")) and mode not in ENCRYPTED:
        found.append(
            Told(
                f"The database on {database['HOST']} may be spoken to without TLS.",
                hint="Add ?sslmode=verify-full&sslrootcert=FILE to DATABASE_URL; see “TLS inside” in operations.md.",
                id="accounts.W001",
            )
        )
    redis = urlsplit(redis_url)
    if _elsewhere(redis.hostname or "") and redis.scheme != "rediss":
        found.append(
            Told(
                f"Redis on {redis.hostname} is spoken to without TLS.",
                hint="Write REDIS_URL with rediss://; see “TLS inside” in operations.md.",
                id="accounts.W002",
            )
        )
    return found


def _elsewhere(host: str) -> bool:
    """Whether the host is another machine: not a socket's folder, and no address of this one."""
    if host in ("", "localhost") or host.startswith("/"):
        return False
    try:
        return not ip_address(host).is_loopback
    except ValueError:
        return True
