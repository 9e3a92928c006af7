"""What the actions of every room on site ask first: is it in sight, is the moment possible, is the row sound."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import IntegrityError, models, transaction
from django.http import Http404
from django.utils import timezone

from accounts.models import Person
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.projects.models import Project

# A phone's clock may run a little ahead; more is a slip of the day or the hour.
AHEAD = timedelta(minutes=10)
FIRST_MOMENT = datetime(2000, 1, 1, tzinfo=UTC)


class NotThere(Refused):
    """Something that a request names does not exist, or is not the sender's to see: the two look alike."""

    status = 404
    kind = "not-found"
    title = "There is no such thing, or it is not yours to see"


def in_sight(by: Person, *things: models.Model) -> None:
    """Raise Http404 unless the person may see every one of the things; what is foreign does not exist for them."""
    for kind in {type(thing) for thing in things}:
        ids = {thing.pk for thing in things if type(thing) is kind}
        if kind._default_manager.visible_to(by).filter(pk__in=ids).count() != len(ids):  # type: ignore[attr-defined]  # every kind asked about is OfProject
            raise Http404


def in_time(at: datetime, field: str, *, row: int | None = None) -> list[Fault]:
    """What is wrong with a moment at which something is said to have happened; nothing for a possible one."""
    if timezone.is_naive(at):
        return [Fault("Give the time zone too, such as 2026-03-04T14:05:00+01:00.", field, row)]
    if at > timezone.now() + AHEAD:
        return [Fault(f"{at:%Y-%m-%d %H:%M %Z} lies in the future; give the time it was done.", field, row)]
    if at < FIRST_MOMENT:
        return [Fault(f"{at:%Y-%m-%d} is too long ago; check the year.", field, row)]
    return []


def in_turn(project: UUID) -> Project:
    """The project, held until the transaction ends: of two sendings at once the second sees what the first stored.

    So no number is given twice, and nobody is asked whether they mean what they have just sent themselves.
    """
    return Project.objects.select_for_update(no_key=True).get(pk=project)


def snapshot(thing: models.Model) -> dict[str, Any]:
    """The columns of a row by name, as the journal keeps them."""
    return {field.attname: field.value_from_object(thing) for field in thing._meta.concrete_fields}


def row_faults(thing: models.Model, *, row: int | None = None) -> list[Fault]:
    """What its own model finds wrong with an unsaved row, field by field. What must be unique, the insert finds out."""
    try:
        thing.full_clean(validate_unique=False, validate_constraints=False)
    except ValidationError as wrong:
        return [
            Fault(" ".join(messages), "" if field == NON_FIELD_ERRORS else field, row)
            for field, messages in wrong.message_dict.items()
        ]
    return []


# Of an id that a sender made.
USED = "This id is used already, with other content. Nothing was changed: look at the stored one."


def save_new(thing: models.Model, *, already: str, field: str = "") -> None:
    """Insert a checked row. `already` is the sentence for when somebody stored the same at the same moment."""
    faults = row_faults(thing)
    if faults:
        raise Refused(faults)
    try:
        with transaction.atomic():
            thing.save(force_insert=True)
    except IntegrityError as fault:
        raise Conflict(Fault(already, field)) from fault
