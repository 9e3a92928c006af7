"""What the rooms above are told of shifts."""

from django.dispatch import Signal

# Sent inside the action's transaction when other shifts than before may hold what people did in a stretch of time, with
#   by       the person who acted,
#   project  the project,
#   people   the ids of those people,
#   since    the beginning of the stretch,
#   until    its end, without; None: still open,
#   because  one sentence for the journal.
shifts_moved = Signal()
