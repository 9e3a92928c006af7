"""What the rooms above are told of a project."""

from django.dispatch import Signal

# Sent inside the action's transaction when the time zone or the shift starts of a project were corrected, with
#   by       the person who acted,
#   project  the project,
#   because  one sentence for the journal.
shifts_corrected = Signal()

# Sent inside the action's transaction when a project began or ceased to allow releases before the check after work,
# with
#   project  the project.
releases_corrected = Signal()

# Sent before areas are changed, so that whoever changes them sees what hangs on them, with
#   by      the person who is about to act; what is told is within their sight,
#   areas   the areas, of one project,
#   change  what is about to be done, one of `breakdown.Change`.
# Each room that listens answers with sentences: what it has there, and what becomes of it.
area_touched = Signal()

# Sent inside the action's transaction when areas were retired, brought back, or replaced by others, with
#   by       the person who acted,
#   areas    those areas,
#   change   what was done, one of `breakdown.Change`,
#   parts    the areas that take their place, if any,
#   at       the moment by which the change is known; a change taken back names that of the change,
#   back     where an area is given a coating system it had before: the moment at which it was taken from it,
#   because  one sentence, with the reason.
areas_changed = Signal()
