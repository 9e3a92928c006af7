"""What the rooms above are told of a plan."""

from __future__ import annotations

from django.dispatch import Signal

# Sent before a revision comes into force, so that whoever brings it in sees what it touches, with
#   by        the person who is about to act; what is told is within their sight,
#   revision  the revision.
# Each room that listens answers with sentences: what it has there, and what becomes of it.
plan_touched = Signal()

# Sent as a revision is shown, with
#   by        the reader; what is told is within their sight,
#   revision  the revision.
# Each room that listens answers with sentences by line (its id): where at single areas the line is departed from.
plan_departures = Signal()

# Sent inside the action's transaction when a revision came into force, with
#   by        the person who acted,
#   revision  the revision, in force now,
#   former    the one it supersedes, or None,
#   at        the moment,
#   because   one sentence for the journal.
plan_in_force = Signal()
