"""Shifts: planned, begun and ended by those who work them, corrected, called off.

A tap never refuses evidence: what begins while another shift is under way, or without a plan, is taken as it is told.
Each change tells the rooms above which people's work, from when until when, may lie in another shift now.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from inspection.foundation.refusals import Conflict, Fault, NotAllowed, Refused
from inspection.projects.actions import goes_on
from inspection.projects.corrections import reason_faults
from inspection.projects.preconditions import in_sight, in_time, snapshot
from inspection.works.belonging import Span
from inspection.works.crews import held, hold, tell
from inspection.works.models import LONGEST_SHIFT, Crew, CrewPerson, Shift, bounds
from inspection.works.planning import MOST_AT_ONCE, length_fault

# So long before its planned beginning a shift may be begun; what begins earlier is a shift of its own.
EARLY = timedelta(hours=4)


@transaction.atomic
def plan_shifts(by: Person, *, crew: Crew, spans: Sequence[Span]) -> list[Shift]:
    """Plan shifts of a crew, all of them or none; those planned just so already are left as they are.

    Planning what has passed is allowed: who worked then is judged by it. Answers the shifts that are new.
    """
    crew = held(by, crew, to="plan shifts")
    goes_on(crew.project)
    if crew.ended_at:
        raise Conflict(f"{crew} has ended; take its end back first.")
    if not 0 < len(spans) <= MOST_AT_ONCE:
        raise Refused(f"Plan between one and {MOST_AT_ONCE} shifts at once.")
    wanted = _not_yet_planned(crew, spans)
    faults = [fault for span in wanted for fault in _span_faults(crew, span, "ends")]
    faults += _apart(crew, wanted)
    if faults:
        raise Refused(faults)
    planned = []
    for begin, end in wanted:
        shift = Shift(crew=crew, planned_begin=begin, planned_end=end)
        shift.save(force_insert=True)
        journal.record("shift.planned", shift, by=by, project_id=crew.project_id, after=snapshot(shift))
        planned.append(shift)
    if planned:
        _tell_of(by, crew, planned, f"Shifts of crew {crew} were planned.")
    return planned


@transaction.atomic
def start_shift(by: Person, *, crew: Crew, at: datetime | None = None) -> tuple[Shift, bool]:
    """Begin the crew's shift now: the planned one that is due, else one without a plan. False if it is under way."""
    crew, at = _own(by, crew, at or timezone.now(), to="begin"), at or timezone.now()
    _refuse(in_time(at, "at"))
    goes_on(crew.project)
    if crew.ended_at:
        raise Conflict(f"{crew} has ended; a quality manager can take its end back.")
    shifts = crew.shifts.that_hold()
    under_way = shifts.filter(begun_at__lte=at, ended_at=None, ends_at__gt=at).order_by("-begun_at").first()
    if under_way:
        return under_way, False
    due = shifts.filter(begun_at=None, begins_at__lte=at + EARLY, ends_at__gt=at)
    planned = min(due, key=lambda shift: abs(shift.begins_at - at), default=None)
    before, was = (snapshot(planned), [_bounds(planned)]) if planned else (None, [])
    shift = planned or Shift(crew=crew)
    shift.begun_at = at
    shift.save()
    _journal("shift.begun", shift, by, before)
    _tell_of(by, crew, [shift], f"Crew {crew} began its shift.", *was)
    return shift, True


@transaction.atomic
def end_shift(by: Person, *, shift: Shift, at: datetime | None = None) -> tuple[Shift, bool]:
    """End a shift now. False if it had ended already; then nothing changes."""
    at = at or timezone.now()
    crew = _own(by, shift.crew, at, to="end", shift=shift)
    shift = _now(shift)
    _refuse(in_time(at, "at"))
    if shift.called_off_at:
        raise Conflict(f"The shift of {shift} was called off.")
    if shift.ended_at:
        return shift, False
    if at <= shift.begins_at:
        raise Conflict(f"The shift of {shift} has not begun; begin it first.")
    if at - shift.begins_at > LONGEST_SHIFT:
        fault = length_fault(_day(shift), at - shift.begins_at, "at")
        raise Conflict(f"{fault.message} Correct its times instead, as they were.")
    before, was = snapshot(shift), _bounds(shift)
    shift.ended_at = at
    shift.save()
    _journal("shift.ended", shift, by, before)
    _tell_of(by, crew, [shift], f"Crew {crew} ended its shift.", was)
    return shift, True


@transaction.atomic
def correct_times(
    by: Person, *, shift: Shift, begun_at: datetime | None, ended_at: datetime | None, reason: str
) -> Shift:
    """Put right when a shift began and ended; nothing: not told. The journal keeps what stood before."""
    crew = _own(by, shift.crew, None, to="correct", shift=shift)
    shift = _now(shift)
    if begun_at is None and shift.planned_begin is None:
        raise Refused(
            "This shift was not planned, so it has a beginning; call it off if there was none.", field="begun_at"
        )
    named = (("begun_at", begun_at), ("ended_at", ended_at))
    _refuse([fault for field, at in named if at for fault in in_time(at, field)])
    return _change(by, crew, shift, "shift.corrected", reason, begun_at=begun_at, ended_at=ended_at)


@transaction.atomic
def replan_shift(by: Person, *, shift: Shift, planned_begin: datetime, planned_end: datetime, reason: str) -> Shift:
    """Plan a shift otherwise. Where it was told when it began or ended, that still counts first."""
    crew = held(by, shift.crew, to="plan shifts")
    shift = _now(shift)
    if shift.called_off_at:
        raise Conflict(f"The shift of {shift} was called off; take that back first.")
    _refuse(_span_faults(crew, (planned_begin, planned_end), "planned_end"))
    return _change(by, crew, shift, "shift.replanned", reason, planned_begin=planned_begin, planned_end=planned_end)


@transaction.atomic
def call_off_shift(by: Person, *, shift: Shift, reason: str) -> Shift:
    """Say that a shift is not worked, or was entered by mistake: it holds nobody's work any more."""
    crew = held(by, shift.crew, to="call a shift off")
    shift = _now(shift)
    if shift.called_off_at:
        raise Conflict(f"The shift of {shift} was called off already.")
    return _change(by, crew, shift, "shift.called_off", reason, called_off_at=timezone.now())


@transaction.atomic
def restore_shift(by: Person, *, shift: Shift, reason: str) -> Shift:
    """Take the calling off of a shift back."""
    crew = held(by, shift.crew, to="take back that a shift was called off")
    shift = _now(shift)
    if not shift.called_off_at:
        raise Conflict(f"The shift of {shift} was not called off.")
    return _change(by, crew, shift, "shift.restored", reason, called_off_at=None)


def may_tap(by: Person, crew: Crew, at: datetime) -> bool:
    """Whether the person may begin or end the crew's shifts: who is in it at the moment, and quality managers."""
    return by.has_role(Role.QUALITY_MANAGER) or crew.people.at(at).filter(person=by).exists()


def may_correct(by: Person, shift: Shift) -> bool:
    """Whether the person may say when the shift began and ended: who was in the crew then, and quality managers."""
    return by.has_role(Role.QUALITY_MANAGER) or _people_in(shift.crew, *_bounds(shift)).filter(person=by).exists()


def _own(by: Person, crew: Crew, at: datetime | None, *, to: str, shift: Shift | None = None) -> Crew:
    """The crew, held. Raises NotAllowed unless the person is in it at the moment or during the shift."""
    in_sight(by, crew)
    crew = hold(crew)
    if (at and may_tap(by, crew, at)) or (shift and may_correct(by, _now(shift))):
        return crew
    raise NotAllowed(f"Only people of crew {crew} and quality managers may {to} its shifts.")


def _now(shift: Shift) -> Shift:
    return Shift.objects.select_related("crew__project").get(pk=shift.pk)


def _change(by: Person, crew: Crew, shift: Shift, verb: str, reason: str, **columns: datetime | None) -> Shift:
    """Set columns of a shift and tell of it; Refused where that makes it too long or has it meet another."""
    _refuse(reason_faults(reason))
    before, was = snapshot(shift), _bounds(shift)
    for name, value in columns.items():
        setattr(shift, name, value)
    if all(before[name] == value for name, value in columns.items()):
        raise Refused("Nothing differs from what is stored.")
    begin, end = bounds(shift.planned_begin, shift.planned_end, shift.begun_at, shift.ended_at)
    if not shift.called_off_at:
        field = "ended_at" if "ended_at" in columns else next(iter(columns))
        # What was told by a tap may meet the shift after a forgotten end; what is set by hand may not.
        _refuse(_span_faults(crew, (begin, end), field) + _apart(crew, [(begin, end)], but=shift, field=field))
    elif end <= begin:
        raise Refused(length_fault(_day(shift), end - begin, "ended_at"))
    shift.save()
    _journal(verb, shift, by, before, reason)
    _tell_of(by, crew, [shift], f"The shift of {shift} was changed: {reason.strip()}", was)
    return shift


def _not_yet_planned(crew: Crew, spans: Sequence[Span]) -> list[Span]:
    stand = set(crew.shifts.that_hold().values_list("planned_begin", "planned_end"))
    return sorted(set(spans) - stand)


def _span_faults(crew: Crew, span: Span, field: str) -> list[Fault]:
    begin, end = span
    if timedelta(0) < end - begin <= LONGEST_SHIFT:
        return []
    return [length_fault(begin.astimezone(crew.project.zone).date(), end - begin, field)]


def _apart(crew: Crew, spans: Sequence[Span], *, but: Shift | None = None, field: str = "begins") -> list[Fault]:
    """A sentence for each of the spans that meets another shift of the crew, or another of the spans."""
    if not spans:
        return []
    first, last = min(begin for begin, _ in spans), max(end for _, end in spans)
    near = crew.shifts.that_hold().filter(begins_at__lt=last, ends_at__gt=first)
    # One begun without a plan and not ended yet holds its beginning only.
    rows = near.exclude(pk=but.pk) if but else near
    held_spans = [
        (row.begins_at, row.begins_at + timedelta(microseconds=1) if _is_open(row) else row.ends_at) for row in rows
    ]
    faults = []
    for number, span in enumerate(spans):
        others = [*held_spans, *spans[:number]]
        met = next((other for other in others if other[0] < span[1] and span[0] < other[1]), None)
        if met:
            faults.append(
                Fault(
                    f"The shift that would begin {_told(crew, span[0])} meets another shift of {crew}, which begins "
                    f"{_told(crew, met[0])}; a crew works one shift at a time.",
                    field,
                )
            )
    return faults


def _is_open(shift: Shift) -> bool:
    return shift.planned_begin is None and shift.ended_at is None


def _bounds(shift: Shift) -> Span:
    return shift.begins_at, shift.ends_at


def _day(shift: Shift) -> Any:
    return shift.begins_at.astimezone(shift.crew.project.zone).date()


def _told(crew: Crew, at: datetime) -> str:
    return f"{at.astimezone(crew.project.zone):%Y-%m-%d %H:%M}"


def _people_in(crew: Crew, since: datetime, until: datetime) -> Any:
    return CrewPerson.objects.filter(Q(ended_at=None) | Q(ended_at__gt=since), crew=crew, begun_at__lt=until)


def _tell_of(by: Person, crew: Crew, shifts: Iterable[Shift], because: str, *were: Span) -> None:
    spans = [*were, *(_bounds(shift) for shift in shifts)]
    since, until = min(begin for begin, _ in spans), max(end for _, end in spans)
    people = set(_people_in(crew, since, until).values_list("person", flat=True))
    if people:
        tell(by, crew, people, since, until, because)


def _journal(verb: str, shift: Shift, by: Person, before: dict[str, Any] | None, reason: str = "") -> None:
    journal.record(
        verb, shift, by=by, project_id=shift.crew.project_id, before=before, after=snapshot(shift),
        reason=reason.strip(),
    )  # fmt: skip


def _refuse(faults: list[Fault]) -> None:
    if faults:
        raise Refused(faults)
