"""What the rooms above are told of shifts, lots and paint, and what they are asked."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any
from uuid import UUID

from django.dispatch import Signal

from accounts.models import Person

# Sent inside the action's transaction when other shifts than before may hold what people did in a stretch of time, with
#   by       the person who acted,
#   project  the project,
#   people   the ids of those people,
#   since    the beginning of the stretch,
#   until    its end, without; None: still open,
#   because  one sentence for the journal.
shifts_moved = Signal()

# Sent to learn what climate was recorded at places, with
#   areas  the ids of the inspection areas,
#   since  the earliest moment asked about,
#   until  the last, or None.
# Each room that listens answers with a list of `climate_told.ClimateTold`.
climate_asked = Signal()

# Sent to learn which points hold work on places, with
#   areas  the ids of the inspection areas,
#   coat   the coat that is about to go on,
#   at     the moment at which it was begun.
# Each room that listens answers with a list of pairs: the id of the area, and the point's words.
holds_asked = Signal()

# Sent inside the action's transaction when lots were begun, corrected, withdrawn or brought back, with
#   by     the person who acted,
#   areas  the ids of the areas where they are, or were until then.
lots_changed = Signal()

# Sent to learn what was found and decided after coats, or of the bare steel, of a project, with
#   project  the project,
#   until    None, or the moment as of which it is asked: what was recorded or decided of later is left out.
# Each room that listens answers with a `progress.Told`.
progress_asked = Signal()

# Sent inside the action's transaction when paint that lots took of counts otherwise than before, with
#   by       the person who acted,
#   areas    the ids of the areas where those lots are,
#   because  one sentence for the journal.
# A listener answers with the ids of the people it wrote to.
paint_moved = Signal()


# Sent inside the action's transaction when the withdrawal of a batch was taken back by itself, with
#   by      the person who acted,
#   batch   the batch, as it counts again,
#   reason  why,
#   told    the ids of the people who were written to already.
# Whatever had recalled it follows.
batch_restored = Signal()

# Sent inside the action's transaction before such a change, with
#   areas  the ids of the areas.
# Who decides over the paint at that moment comes before, or sees the change: a listener holds what is decided there.
paint_about_to_move = Signal()


def tell_of_paint(sender: Any, by: Person, areas: Collection[UUID], because: str) -> set[UUID]:
    """Send `paint_moved`, where there is any place; the ids of the people who were written to about what follows."""
    answers: list[tuple[Any, Any]] = []
    if areas:
        answers = paint_moved.send(sender=sender, by=by, areas=areas, because=because)
    return {person for _, written_to in answers for person in written_to or ()}
