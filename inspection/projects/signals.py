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

# Sent before the part of a party is ended, with
#   by     the person who is about to act,
#   party  the party.
# Each room that listens answers with a list of `accounts.signals.Unfinished`: what it has that names the party.
party_touched = Signal()

# Sent before a project is corrected, so that whoever corrects it sees what that changes, with
#   by         the person who is about to act,
#   project    the project as it stands,
#   corrected  the same with what was typed; it is not stored,
#   changed    the names of the columns that differ.
# Each room that listens answers with sentences.
project_touched = Signal()

# Sent inside the action's transaction when a project was corrected, with
#   by       the person who acted,
#   project  the project as it is then,
#   changed  the names of the columns that differ.
project_corrected = Signal()

# Sent before areas are changed, so that whoever changes them sees what hangs on them, with
#   by      the person who is about to act; what is told is within their sight,
#   areas   the areas, of one project,
#   change  what is about to be done, one of `breakdown.Change`,
#   stay    of a revision: the coats that stay with the former, as pairs of the ids of area and coat.
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

# Sent inside the action's transaction when unfinished coats of areas moved to another revision of their system, with
#   by       the person who acted,
#   project  the project,
#   moves    what moved, as `steps.Move`: a coat, what takes its place (None: no such step any more), and the areas,
#   because  one sentence, with the reason.
coats_moved = Signal()

# Sent to learn what was judged after coats, with
#   coats    the ids of the coats,
#   areas    the ids of the areas; None for all,
#   since    None, or a moment: then also what was judged of bare steel taken since.
# Each room that listens answers with `steps.Judged`: what is judged there, and what is begun.
coats_judged = Signal()
