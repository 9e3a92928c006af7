"""Planning, beginning, ending and correcting shifts: what the actions take and what they refuse."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest
import time_machine

from accounts.models import JournalEntry
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.projects.models import Project
from inspection.works.crews import add_people, end_crew, rename_crew, restore_crew
from inspection.works.models import Crew, Shift
from inspection.works.planning import Pattern, shifts_of
from inspection.works.shifts import correct_times, end_shift, plan_shifts, replan_shift, start_shift
from tests.cast import DAY, Cast
from tests.standing.scene import clock
from tests.works.scene import crew_of, plan

WEEK = frozenset(range(5))


def pattern(first: date, last: date, begins: str, ends: str, weekdays: frozenset[int] = WEEK) -> Pattern:
    return Pattern(
        first=first, last=last, weekdays=weekdays, begins=time.fromisoformat(begins), ends=time.fromisoformat(ends)
    )


@pytest.mark.once
def test_four_weeks_of_working_days_are_twenty_shifts_in_utc() -> None:
    oslo = Project(time_zone="Europe/Oslo")
    found = shifts_of(pattern(date(2026, 3, 2), date(2026, 3, 29), "06:00", "16:00"), oslo)
    assert len(found) == 20
    assert found[0] == (datetime(2026, 3, 2, 5, tzinfo=UTC), datetime(2026, 3, 2, 15, tzinfo=UTC))


@pytest.mark.once
@pytest.mark.parametrize(
    ("night", "hours"),
    # The clocks of the European Union: forward on 29 March and back on 25 October 2026 (Directive 2000/84/EC).
    [(date(2026, 3, 27), 8), (date(2026, 3, 28), 7), (date(2026, 10, 24), 9)],
)
def test_a_night_shift_is_an_hour_shorter_or_longer_when_clocks_change(night: date, hours: int) -> None:
    oslo = Project(time_zone="Europe/Oslo")
    [(begin, end)] = shifts_of(pattern(night, night, "22:00", "06:00", frozenset(range(7))), oslo)
    assert end - begin == timedelta(hours=hours)


@pytest.mark.once
@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        (pattern(DAY, DAY, "06:00", "22:01"), "would last 16 h 1 min"),
        (pattern(DAY, DAY, "06:00", "06:00"), "would last 24 h; a shift is at most 16 h"),
        (pattern(DAY, DAY - timedelta(days=1), "06:00", "14:00"), "The last day lies before the first."),
        (pattern(DAY, DAY, "06:00", "14:00", frozenset({6})), "None of these weekdays lies between the two days."),
        (pattern(DAY, DAY, "06:00", "14:00", frozenset()), "Choose at least one weekday."),
        (pattern(DAY, DAY + timedelta(days=365), "06:00", "14:00"), "plan at most 200 at once"),
    ],
)
def test_a_pattern_that_cannot_be_worked_is_refused_with_a_sentence(given: Pattern, sentence: str) -> None:
    with pytest.raises(Refused) as refusal:
        shifts_of(given, Project(time_zone="UTC"))
    assert sentence in str(refusal.value)


def test_planning_the_same_again_changes_nothing_and_what_meets_another_shift_is_refused_whole(cast: Cast) -> None:
    crew = crew_of(cast, "Days")
    spans = [(clock("06:00") + timedelta(days=day), clock("16:00") + timedelta(days=day)) for day in range(3)]
    assert len(plan_shifts(cast.quinn, crew=crew, spans=spans)) == 3
    assert plan_shifts(cast.quinn, crew=crew, spans=spans) == []
    free, meets = (
        (clock("06:00") - timedelta(days=1), clock("16:00") - timedelta(days=1)),
        (clock("15:00"), clock("18:00")),
    )
    with pytest.raises(Refused, match="meets another shift of Days"):
        plan_shifts(cast.quinn, crew=crew, spans=[free, meets])
    with pytest.raises(NotAllowed):
        plan_shifts(cast.ines, crew=crew, spans=[free])
    assert Shift.objects.count() == 3


def test_one_tap_begins_the_planned_shift_and_another_ends_it_and_tapping_twice_changes_nothing(cast: Cast) -> None:
    crew = crew_of(cast, "Days", cast.ines)
    planned = plan(cast, crew, "06:00", "16:00")
    begun, new = start_shift(cast.ines, crew=crew, at=clock("05:48"))
    assert (begun, new, begun.begins_at, begun.ends_at) == (planned, True, clock("05:48"), clock("16:00"))
    assert start_shift(cast.ines, crew=crew, at=clock("05:49")) == (begun, False)
    ended, new = end_shift(cast.ines, shift=begun, at=clock("16:25"))
    assert (new, ended.ends_at) == (True, clock("16:25"))
    assert end_shift(cast.ines, shift=begun, at=clock("16:40")) == (begun, False)
    assert Shift.objects.get().ended_at == clock("16:25")
    assert JournalEntry.objects.filter(verb__in=("shift.begun", "shift.ended")).count() == 2


def test_what_begins_without_a_plan_is_a_shift_too_and_taken_to_end_after_16_hours(cast: Cast) -> None:
    crew = crew_of(cast, "Days", cast.ines)
    shift, _ = start_shift(cast.ines, crew=crew, at=clock("01:00"))
    assert (shift.planned_begin, shift.ends_at) == (None, clock("17:00"))
    assert shift.is_assumed
    with time_machine.travel(clock("16:00"), tick=False):
        assert shift.is_under_way
    with pytest.raises(Conflict, match="would last 17 h 30 min; a shift is at most 16 h"):
        end_shift(cast.ines, shift=shift, at=clock("18:30"))
    correct_times(cast.ines, shift=shift, begun_at=clock("04:00"), ended_at=clock("18:30"), reason="as worked")
    assert Shift.objects.get().ends_at == clock("18:30")


def test_only_people_of_the_crew_and_quality_managers_tap(cast: Cast) -> None:
    crew = crew_of(cast, "Days")
    with pytest.raises(NotAllowed, match="Only people of crew Days and quality managers may begin its shifts"):
        start_shift(cast.ines, crew=crew, at=clock("06:00"))
    shift, _ = start_shift(cast.quinn, crew=crew, at=clock("06:00"))
    with pytest.raises(NotAllowed):
        end_shift(cast.clara, shift=shift, at=clock("07:00"))


@pytest.mark.parametrize(
    ("begun", "ended", "sentence"),
    [
        ("06:00", "22:30", "would last 16 h 30 min; a shift is at most 16 h"),
        ("12:00", "11:00", "would end before it begins"),
        ("06:00", "17:30", "meets another shift"),
    ],
)
def test_a_correction_that_cannot_be_is_refused_and_nothing_is_stored(
    cast: Cast, begun: str, ended: str, sentence: str
) -> None:
    crew = crew_of(cast, "Days")
    shift = plan(cast, crew, "06:00", "16:00")
    plan(cast, crew, "17:00", "23:00")
    with pytest.raises(Refused, match=sentence):
        correct_times(cast.quinn, shift=shift, begun_at=clock(begun), ended_at=clock(ended), reason="slip")
    with pytest.raises(Refused):
        replan_shift(cast.quinn, shift=shift, planned_begin=clock(begun), planned_end=clock(ended), reason="slip")
    with pytest.raises(Refused, match="lies in the future"):
        correct_times(
            cast.quinn, shift=shift, begun_at=datetime.now(UTC) + timedelta(days=1), ended_at=None, reason="slip"
        )
    found = Shift.objects.get(pk=shift.pk)
    assert (found.begins_at, found.ends_at) == (clock("06:00"), clock("16:00"))


def test_a_person_is_in_one_crew_of_a_project_at_a_time_and_belongs_to_its_party(cast: Cast) -> None:
    days, nights = crew_of(cast, "Days", cast.ines), crew_of(cast, "Nights")
    with pytest.raises(Conflict, match="Ines Inspector is in crew Days from 2026-03-04 00:00; of one project"):
        add_people(cast.quinn, crew=nights, people=[cast.ines], begun_at=clock("12:00"))
    with pytest.raises(Refused, match="does not belong to The Company"):
        add_people(cast.quinn, crew=nights, people=[cast.clara], begun_at=clock("12:00"))
    with pytest.raises(Refused, match="takes no part in P-1"):
        add_people(cast.quinn, crew=nights, people=[cast.igor], begun_at=clock("12:00"))
    with pytest.raises(Refused, match="The end lies after the beginning"):
        add_people(cast.quinn, crew=nights, people=[cast.quinn], begun_at=clock("12:00"), ended_at=clock("11:00"))
    with pytest.raises(Conflict, match="P-1 already has a crew Nights"):
        rename_crew(cast.quinn, crew=days, name="Nights", reason="slip")
    assert not nights.people.exists()


def test_ending_a_crew_calls_off_what_is_to_come_and_is_taken_back_whole(cast: Cast) -> None:
    crew = crew_of(cast, "Days", cast.ines)
    past, to_come = plan(cast, crew, "06:00", "10:00"), plan(cast, crew, "14:00", "20:00")
    end_crew(cast.quinn, crew=crew, reason="works are done", at=clock("12:00"))
    kept = dict(Shift.objects.values_list("pk", "called_off_at"))
    assert kept == {past.pk: None, to_come.pk: clock("12:00")}
    assert crew.people.get().ended_at == clock("12:00")
    with pytest.raises(Conflict, match="has ended"):
        start_shift(cast.quinn, crew=crew, at=clock("13:00"))
    restore_crew(cast.quinn, crew=crew, reason="they are not")
    assert crew.people.get().ended_at is None
    assert not Shift.objects.exclude(called_off_at=None).exists()
    assert Crew.objects.get().ended_at is None
