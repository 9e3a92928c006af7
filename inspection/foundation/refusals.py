"""How an action says no. Pages, the API, uploads and commands show these in the same words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing wrong with what was sent: the field, the row (from 1, if any), what would be right."""

    message: str
    field: str = ""
    row: int | None = None

    def __str__(self) -> str:
        where = ", ".join(part for part in (f"row {self.row}" if self.row is not None else "", self.field) if part)
        return f"{where}: {self.message}" if where else self.message


class Refused(Exception):
    """What was asked cannot be done as sent. Nothing was stored."""

    status = 422
    kind = "refused"
    title = "This cannot be done as sent"

    def __init__(self, faults: str | Fault | Iterable[Fault], *, field: str = "") -> None:
        if isinstance(faults, str):
            faults = (Fault(faults, field),)
        elif isinstance(faults, Fault):
            faults = (faults,)
        self.faults = tuple(faults)
        super().__init__("; ".join(str(fault) for fault in self.faults))


class NotAllowed(Refused):
    """The person may see the thing but has not the right to do this."""

    status = 403
    kind = "not-allowed"
    title = "You may not do this"


class Asked(Refused):
    """Nothing need be wrong, but something is doubtful. Nothing is stored until the sender says that it is right."""

    status = 428
    kind = "to-confirm"
    title = "Is this right? It is not stored yet"


class Conflict(Refused):
    """Somebody or something came first: the thing has moved on since the sender last saw it."""

    status = 409
    kind = "conflict"
    title = "This has changed since you looked"


class OutOfService(Refused):
    """What was asked is right, but a part of the platform cannot do it now; the same may be sent again later."""

    status = 503
    kind = "out-of-service"
    title = "A part of the platform is out of service"
