"""The one signal of ours: something that field records rest on has changed."""

from django.dispatch import Signal

# Sent inside the action's transaction, with
#   by       the person who acted (None for the platform),
#   records  ids of thickness records that are new (default none),
#   gauges   ids of gauges whose verifications, certificates or incidents changed (default none),
#   since    the earliest moment touched on those gauges (default None: their whole history),
#   climate  ids of climate records that are new, or that new ones replace (default none),
#   because  one sentence for the journal.
# Who listens is no business of the sender.
evidence_changed = Signal()
