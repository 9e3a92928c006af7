"""What the rooms above are told of a project."""

from django.dispatch import Signal

# Sent inside the action's transaction when the time zone or the shift starts of a project were corrected, with
#   by       the person who acted,
#   project  the project,
#   because  one sentence for the journal.
shifts_corrected = Signal()
