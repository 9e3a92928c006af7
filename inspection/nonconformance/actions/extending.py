"""Finding how far a nonconforming film reaches: a spot is kept, or taken back."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.text import line
from inspection.foundation.units import Unit, to_nm
from inspection.nonconformance.actions.dispositions import held, refuse_closed
from inspection.nonconformance.actions.raising import text_of
from inspection.nonconformance.extent import Found, found
from inspection.nonconformance.models import ExtentSpot, Nonconformance, RepairedPart
from inspection.projects.preconditions import in_sight

MOST_READINGS = 50
WORKERS = (Role.INSPECTOR, Role.QUALITY_MANAGER)


@transaction.atomic
def add_spot(
    by: Person, *, nonconformance: Nonconformance, id: UUID, readings: Sequence[object] = (), unit: Unit | str = "",  # noqa: A002 - its own name for it, as in the API
    ended: str = "", direction: int | None = None, by_units: bool = False, note: str = "",
) -> tuple[ExtentSpot, bool]:  # fmt: skip
    """Keep the readings of the next spot outward, or that its direction ends; True when it is new.

    `readings` in `unit`, the project's where none is named. Without a direction it is of the one that comes next. The
    same again under its id answers with what is stored.
    """
    require(by, *WORKERS, to="find how far a nonconformance reaches")
    locked = held(by, nonconformance)
    told = _told(locked)
    unit = Unit(unit or locked.project.unit)
    sent = {"readings_nm": _readings(readings, ended, unit), "ended": ended, "by_units": by_units}
    sent["note"] = line(note, field="note", most=200, needed=False)
    if stored := ExtentSpot.objects.filter(pk=id).first():
        same = all(getattr(stored, name) == value for name, value in sent.items() if name != "by_units")
        same &= direction in (None, stored.direction) and stored.measured_by_id == by.pk
        if same and stored.nonconformance_id == locked.pk:
            return stored, False
        raise Conflict(Fault("This id is used already. Nothing was changed: send it under another.", "id"))
    refuse_closed(locked)
    sent["by_units"] = told.by_units if told.spots else by_units
    last = ExtentSpot.objects.filter(nonconformance=locked).aggregate(last=Max("number"))["last"] or 0
    number, towards = last + 1, _direction(told, direction)
    spot = ExtentSpot.objects.create(
        id=id, nonconformance=locked, number=number, direction=towards, measured_by=by, **sent
    )
    after = {"spot": str(spot.pk), "direction": towards, **{name: sent[name] for name in ("readings_nm", "ended")}}
    journal.record("nonconformance.spot_measured", locked, by=by, project_id=locked.project_id, after=after)
    return spot, True


def _told(locked: Nonconformance) -> Found:
    told = found(locked)
    if told is None:
        raise Refused("It is against no film with a specified minimum, so that nothing is to be measured outward.")
    return told


def _readings(readings: Sequence[object], ended: str, unit: Unit) -> list[int]:
    if ended and ended not in ExtentSpot.Ended.values:
        raise Refused(f"Give one of {', '.join(ExtentSpot.Ended.values)}.", field="ended")
    if bool(readings) == bool(ended):
        raise Refused("Give either the readings of the spot, or why there is none to measure.", field="readings")
    if len(readings) > MOST_READINGS:
        raise Refused(f"Give at most {MOST_READINGS} readings of one spot.", field="readings")
    return [to_nm(str(each), unit, field="readings") for each in readings]


def _direction(told: Found, asked: int | None) -> int:
    """The direction to measure in. Raises Refused where it is finished, and Conflict where all of them are."""
    still = told.open_directions()
    if not still:
        raise Conflict("The search has ended: every direction is finished. Take a spot back to measure on.")
    if asked is None:
        return still[0]
    if asked not in still:
        raise Refused(f"Direction {asked} is finished; choose one of {', '.join(map(str, still))}.", field="direction")
    return asked


@transaction.atomic
def take_spot_back(by: Person, *, spot: ExtentSpot, reason: str) -> ExtentSpot:
    """Say that a spot was wrong, with a reason; from the outermost of its direction inwards. It stays readable."""
    require(by, *WORKERS, to="take a spot back")
    in_sight(by, spot)
    locked = held(by, spot.nonconformance)
    reason = text_of(reason, "reason")
    if not reason:
        raise Refused("Say why it is taken back; it stays readable.", field="reason")
    spot = ExtentSpot.objects.get(pk=spot.pk)
    if spot.withdrawn_at is not None:
        raise Conflict("It was taken back already.")
    if made := RepairedPart.objects.in_force().filter(nonconformance=locked).select_related("part").first():
        raise Conflict(f"{made} rests on the search; undo that part first.")
    if spot not in _told(locked).outermost():
        raise Conflict("Spots further out in its direction rest on it; take those back first.")
    spot.withdrawn_at, spot.withdrawn_by, spot.withdrawn_why = timezone.now(), by, reason
    spot.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawn_why"])
    journal.record(
        "nonconformance.spot_taken_back", locked, by=by, project_id=locked.project_id, after={"spot": str(spot.pk)},
        reason=reason,
    )  # fmt: skip
    return spot
