"""How much one person, and one token, may ask of the API in a stretch of time; beyond it the answer is 429.

Counted in the cache, which all processes share. While it is away each process counts for itself: nobody is shut out,
and nobody can ask for more than the limits of all processes together.
"""

from __future__ import annotations

import logging
import time
from threading import Lock
from typing import Any

from django.conf import settings
from django.core.cache import cache
from rest_framework import exceptions, status
from rest_framework.request import Request
from rest_framework.throttling import BaseThrottle

log = logging.getLogger(__name__)
# So long an absent cache is not asked again: each asking may take as long as its time-out.
ABSENT_FOR_S = 30
WORDS = {"read": "requests", "write": "records and changes", "calculation": "calculations"}
now = time.time


class TooMany(exceptions.APIException):
    status_code = status.HTTP_429_TOO_MANY_REQUESTS

    def __init__(self, *, kind: str, most: int, stretch_s: int, wait_s: int) -> None:
        stretch = "a day" if stretch_s == 86_400 else f"{stretch_s // 60} minutes"
        super().__init__(
            f"More than {most:,} {WORDS[kind]} in {stretch}. Nothing of this request was stored; wait {wait_s} seconds "
            "and send the same again."
        )
        self.wait = wait_s


class ByPersonAndToken(BaseThrottle):
    """The limits of settings.API_LIMITS, for each token, and for twice as much for a person with all their tokens."""

    def allow_request(self, request: Request, view: Any) -> bool:
        """Count the request; raises TooMany, with the seconds to wait, when it is one too many."""
        if not request.user:
            return True
        kind = getattr(view, "limited_as", None) or (
            "read" if request.method in ("GET", "HEAD", "OPTIONS") else "write"
        )
        counted = [(f"person:{request.user.pk}", 2)]
        if token := getattr(request.auth, "token_key", None):
            counted.append((f"token:{token}", 1))
        for stretch_s, limit in settings.API_LIMITS[kind].items():
            number, begun_s = divmod(int(now()), stretch_s)
            for who, share in counted:
                if _count(f"throttle:{kind}:{stretch_s}:{number}:{who}", stretch_s) > limit * share:
                    raise TooMany(kind=kind, most=limit * share, stretch_s=stretch_s, wait_s=stretch_s - begun_s)
        return True


# --- counting ---------------------------------------------------------------------------------------------------------
class OfThisProcess:
    """The counts while the cache is away."""

    def __init__(self) -> None:
        self.lock, self.absent_until, self.counts = Lock(), 0.0, dict[str, tuple[int, float]]()

    def count(self, key: str, stretch_s: int) -> int:
        at = time.monotonic()
        with self.lock:
            self.counts = {name: kept for name, kept in self.counts.items() if kept[1] > at}
            count, ends = self.counts.get(key, (0, at + stretch_s))
            self.counts[key] = (count + 1, ends)
        return count + 1


here = OfThisProcess()


def _count(key: str, stretch_s: int) -> int:
    if time.monotonic() >= here.absent_until:
        try:
            cache.add(key, 0, stretch_s)
            return cache.incr(key)
        except ValueError:
            return 1  # it ended between the two
        except Exception:  # whatever the cache's driver raises while it is away
            log.warning("the cache is away; requests are counted by each process for itself", exc_info=True)
            here.absent_until = time.monotonic() + ABSENT_FOR_S
    return here.count(key, stretch_s)
