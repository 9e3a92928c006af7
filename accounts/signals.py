"""What the rooms above are asked and told without this one knowing them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.dispatch import Signal

from accounts.models import Person

# Sent before somebody or something is ended, with
#   by       the person who is about to act; what is told is within their sight,
#   person   who leaves (None when it is about a project),
#   project  the project that is left or closed (None when it is about all of them).
# Each room that listens answers with a list of Unfinished.
unfinished = Signal()

# Sent inside the transaction in which all ends that opens a door in somebody's name without their password, with
#   person  whose keys they were,
#   by      who ends them.
keys_ended = Signal()

# Sent inside the action's transaction when somebody's access ends, and again before they come back by an invitation, so
# that nothing of their former place here lets them in, with
#   by       the person who acted,
#   person   whose access ended,
#   at       when.
# Each room that listens ends what it gave them.
access_ended = Signal()


# Sent before somebody is told of projects, with
#   person    who would be told,
#   projects  the ids of those projects.
# Each room that listens answers with the ids of those that the person sees.
sight_asked = Signal()


# Sent when somebody's landing page is shown, with
#   person  whose page it is,
#   at      the moment.
# Each room that listens answers with a list of Ahead.
ahead_asked = Signal()


@dataclass(frozen=True)
class Ahead:
    """One appointment of the next days: what and where, from when until when, and its page."""

    words: str
    place: str
    # Whose clocks its times are shown by.
    project: Any
    begins_at: datetime
    ends_at: datetime
    address: str
    # What is to be said of it besides.
    remark: str = ""


@dataclass(frozen=True)
class Unfinished:
    """One sort of thing that stays behind: how many, in words, and the page where they are seen to."""

    words: str
    address: str = ""


def left_unfinished(by: Person, *, person: Person | None = None, project: Any = None) -> list[Unfinished]:
    """All that stays behind, room by room; empty when nothing does."""
    answers: list[tuple[Any, Any]] = unfinished.send(sender=Person, by=by, person=person, project=project)
    return [each for _, found in answers for each in found]


def ahead_of(person: Person, at: datetime) -> list[Ahead]:
    """The appointments of the next days that a person sees, room by room, in the order of their times."""
    answers: list[tuple[Any, Any]] = ahead_asked.send(sender=Person, person=person, at=at)
    return sorted((each for _, found in answers for each in found), key=lambda each: each.begins_at)


def projects_seen(person: Person, projects: set[UUID]) -> set[UUID]:
    """Those of the projects that the person sees now."""
    answers: list[tuple[Any, Any]] = sight_asked.send(sender=Person, person=person, projects=projects)
    return {pk for _, found in answers for pk in found}
