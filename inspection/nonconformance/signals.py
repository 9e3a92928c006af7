"""What the rooms above are told of nonconformances."""

from django.dispatch import Signal

# Sent inside the action's transaction when nonconformances were raised, closed or opened again, with
#   places  the areas and coats they are of, as pairs of ids.
nonconformances_moved = Signal()

# Sent inside the action's transaction when a repaired part was made or undone, with
#   by        the person who acted,
#   repaired  the `RepairedPart` as it is then,
#   because   one sentence for the journal.
repaired_part_moved = Signal()
