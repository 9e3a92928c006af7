"""To which shift readings belong, and what follows for how far they can be relied on.

The rule that a gauge is checked at the beginning and the end of each work shift is SSPC-PA 2's (from memory).
"""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from accounts.models import JournalEntry, Role
from inspection.fieldwork.models import ThicknessRecord
from inspection.projects.models import Membership
from inspection.standing.models import Standing
from inspection.standing.queries import compute
from inspection.works.belonging import shift_of
from inspection.works.crews import add_people, correct_part, end_crew, remove_part, restore_crew
from inspection.works.models import Crew
from inspection.works.shifts import (
    call_off_shift,
    correct_times,
    end_shift,
    plan_shifts,
    replan_shift,
    restore_shift,
    start_shift,
)
from tests.cast import Cast, person
from tests.standing.scene import clock, measure, verify
from tests.works.scene import crew_of, plan

WHY = "as the foreman wrote it"


def state(record: ThicknessRecord) -> str:
    return Standing.objects.get(pk=record.pk).state


def test_a_shift_of_14_hours_across_the_projects_shift_start_is_closed_by_the_check_at_its_end(cast: Cast) -> None:
    verify(cast, "08:10")
    record = measure(cast, "17:30", "18:30")
    verify(cast, "21:40")
    # By the project's clock, on which a shift begins at 18:00.
    assert state(record) == "in_question"
    crew = crew_of(cast, "Long", cast.ines)
    plan(cast, crew, "08:00", "22:00")
    assert state(record) == "sound"
    assert Standing.objects.get(pk=record.pk).due_at == clock("22:00")
    told = JournalEntry.objects.filter(verb="standing.changed").latest("pk")
    assert (told.actor, told.reason) == (cast.quinn, "Shifts of crew Long were planned.")


def test_whoever_is_in_no_crew_and_in_no_shift_works_by_the_projects_clock(cast: Cast) -> None:
    crew = crew_of(cast, "Days", cast.ines)
    plan(cast, crew, "08:00", "16:00")
    project = cast.site.project
    assert shift_of(cast.ines.pk, project, clock("09:00")) == (clock("08:00"), clock("16:00"))
    assert shift_of(cast.ines.pk, project, clock("16:00")) == (clock("06:00"), clock("18:00"))
    assert shift_of(cast.quinn.pk, project, clock("09:00")) == (clock("06:00"), clock("18:00"))
    assert shift_of(cast.ines.pk, cast.foreign.project, clock("09:00")) == (clock("06:00"), clock("18:00"))


def another(cast: Cast) -> Any:
    someone = person("Olaf Other", cast.company, Role.INSPECTOR)
    Membership.objects.create(project=cast.site.project, person=someone, organisation=cast.company, role=Role.INSPECTOR)
    return someone


def test_a_gauge_handed_to_the_night_crew_is_checked_in_each_of_the_two_shifts(cast: Cast) -> None:
    olaf = another(cast)
    plan(cast, crew_of(cast, "Days", cast.ines), "07:00", "17:00")
    plan(cast, crew_of(cast, "Nights", olaf), "17:00", "23:00")
    verify(cast, "07:10")
    by_day = measure(cast, "09:00", "10:00")
    by_night = measure(cast, "17:30", "17:50", coat=1, by=olaf)
    verify(cast, "17:55", by=olaf)
    # The check after the night's readings is not of the day's shift, though both lie in one of the project's clock.
    assert (state(by_day), state(by_night)) == ("in_question", "in_question")
    verify(cast, "16:50")
    verify(cast, "17:05", by=olaf)
    assert (state(by_day), state(by_night)) == ("sound", "sound")


def test_two_crews_that_overlap_with_a_gauge_each_are_judged_each_by_its_own_shift(cast: Cast) -> None:
    olaf, other = another(cast), cast.gauge
    other = type(other).objects.create(
        identity="G-02", range_from_nm=0, range_to_nm=1_500_000, accuracy_pct=1, accuracy_nm=1_000
    )
    cast.gauge_certificate.values.create(gauge=other)
    plan(cast, crew_of(cast, "Early", cast.ines), "06:00", "14:00")
    plan(cast, crew_of(cast, "Late", olaf), "12:00", "20:00")
    verify(cast, "06:10")
    verify(cast, "12:10", gauge=other, by=olaf)
    early, late = measure(cast, "13:00", "13:30"), measure(cast, "13:00", "13:30", coat=1, gauge=other, by=olaf)
    verify(cast, "14:30")
    verify(cast, "19:30", gauge=other, by=olaf)
    assert (state(early), state(late)) == ("in_question", "sound")


def test_telling_and_correcting_when_a_shift_ended_has_its_readings_judged_again(cast: Cast) -> None:
    crew = crew_of(cast, "Days", cast.ines)
    shift = plan(cast, crew, "07:00", "15:00")
    verify(cast, "07:10")
    record = measure(cast, "14:00", "14:30")
    verify(cast, "15:20")
    assert state(record) == "in_question"
    end_shift(cast.ines, shift=shift, at=clock("15:30"))
    assert state(record) == "sound"
    correct_times(cast.ines, shift=shift, begun_at=None, ended_at=clock("15:10"), reason=WHY)
    assert state(record) == "in_question"
    replan_shift(cast.quinn, shift=shift, planned_begin=clock("07:30"), planned_end=clock("15:00"), reason=WHY)
    correct_times(cast.ines, shift=shift, begun_at=clock("07:00"), ended_at=None, reason=WHY)
    call_off_shift(cast.quinn, shift=shift, reason=WHY)
    assert state(record) == "sound"
    restore_shift(cast.quinn, shift=shift, reason=WHY)
    assert state(record) == "in_question"
    reasons = JournalEntry.objects.filter(object_id=str(shift.pk)).order_by("pk").values_list("verb", flat=True)
    assert list(reasons) == [
        "shift.planned", "shift.ended", "shift.corrected", "shift.replanned", "shift.corrected", "shift.called_off",
        "shift.restored",
    ]  # fmt: skip


def test_who_belongs_to_a_crew_has_readings_judged_again_too(cast: Cast) -> None:
    crew = crew_of(cast, "Long")
    plan(cast, crew, "08:00", "22:00")
    verify(cast, "08:10")
    record = measure(cast, "17:30", "18:30")
    verify(cast, "21:40")
    [part] = add_people(cast.quinn, crew=crew, people=[cast.ines], begun_at=clock("08:00"))
    assert state(record) == "sound"
    correct_part(cast.quinn, part=part, begun_at=clock("08:00"), ended_at=clock("17:00"), reason=WHY)
    assert state(record) == "in_question"
    correct_part(cast.quinn, part=part, begun_at=clock("08:00"), ended_at=None, reason=WHY)
    assert state(record) == "sound"
    end_crew(cast.quinn, crew=crew, reason=WHY, at=clock("17:00"))
    assert state(record) == "in_question"
    restore_crew(cast.quinn, crew=crew, reason=WHY)
    assert state(record) == "sound"
    remove_part(cast.quinn, part=part, reason=WHY)
    assert state(record) == "in_question"
    call_command("standing", "--check")


@pytest.mark.parametrize("seed", range(4))
def test_shifts_checks_and_readings_in_any_order_end_in_what_the_facts_say(cast: Cast, seed: int) -> None:
    chance, olaf = random.Random(seed), another(cast)
    days, nights = crew_of(cast, "Days"), crew_of(cast, "Nights")

    def join(crew: Crew, someone: Any) -> Callable[[], Any]:
        return lambda: add_people(cast.quinn, crew=crew, people=[someone], begun_at=clock("00:00"))

    def told() -> None:
        shift, _ = start_shift(cast.quinn, crew=days, at=clock("05:50"))
        end_shift(cast.quinn, shift=shift, at=clock("18:50"))

    events: list[Callable[[], Any]] = [
        join(days, cast.ines), join(nights, olaf), told,
        lambda: plan_shifts(cast.quinn, crew=nights, spans=[(clock("17:30"), clock("23:30"))]),
        lambda: verify(cast, "05:55"), lambda: verify(cast, "18:40"), lambda: verify(cast, "22:00"),
        lambda: measure(cast, "17:40", "18:20"), lambda: measure(cast, "18:45", "20:00", coat=1, by=olaf),
    ]  # fmt: skip
    chance.shuffle(events)
    for event in events:
        event()
    kept = {row.pk: (row.state, tuple(row.reasons), row.opening_id, row.closing_id) for row in Standing.objects.all()}
    facts = compute(list(kept), clock("23:59") + timedelta(days=5))
    assert kept == {pk: (found.state, found.reasons, found.opening, found.closing) for pk, found in facts.items()}
    assert {row.record.taken_by: row.state for row in Standing.objects.select_related("record__taken_by")} == {
        cast.ines: "sound", olaf: "sound",
    }  # fmt: skip


def test_asking_for_shifts_takes_one_question_however_many_records_and_shifts_there_are(cast: Cast) -> None:
    crew = crew_of(cast, "Days", cast.ines)
    plan(cast, crew, "07:00", "15:00")
    records = [measure(cast, "08:00", "08:30").pk]

    def asked() -> int:
        with CaptureQueriesContext(
            connection,
        ) as queries:
            compute(records, clock("23:00"))
        return len(queries)

    few = asked()
    plan_shifts(
        cast.quinn, crew=crew,
        spans=[(clock("07:00") + timedelta(days=day), clock("15:00") + timedelta(days=day)) for day in range(1, 20)],
    )  # fmt: skip
    records += [measure(cast, "", "", at=clock("09:00") + timedelta(days=day), tell=False).pk for day in range(1, 20)]
    assert asked() == few
