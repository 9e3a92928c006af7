"""Cells changed on a grid and not stored yet, held from window to window in the session of whoever changes them."""

from __future__ import annotations

from uuid import UUID

from accounts.middleware import SignedIn
from inspection.fieldwork.grid import MOST_CHANGES, Cell, Changes, Place
from inspection.foundation.refusals import Refused

IN_SESSION = "grid_changes"
# Of a session; those of the record that was begun first are forgotten first.
MOST_RECORDS = 5


def held_changes(request: SignedIn, record: UUID) -> dict[Place, Cell]:
    held = request.session.get(IN_SESSION, {}).get(str(record), [])
    return {(spot, order): Cell(nm, void) for spot, order, nm, void in held}


def hold_changes(request: SignedIn, record: UUID, changes: Changes) -> None:
    """Hold these of the record in place of those held before; none forgets it. Raises Refused beyond what is held."""
    if len(changes) > MOST_CHANGES:
        raise Refused(
            f"A correction on the grid changes at most {MOST_CHANGES} readings; these are {len(changes)}. "
            "Upload a corrected file instead."
        )
    held = {pk: rows for pk, rows in request.session.get(IN_SESSION, {}).items() if pk != str(record)}
    if changes:
        held[str(record)] = [[*place, *cell] for place, cell in sorted(changes.items())]
    request.session[IN_SESSION] = dict(list(held.items())[-MOST_RECORDS:])
