"""The standing of a thickness record by the facts about its gauge, its checks and their certificates.

Sources: SSPC-PA 2 (accuracy verified at the beginning and end of each shift, from memory; all readings since the last
passing check are suspect when a check fails, stored source). The 10 % allowance beyond the shims is declared by us.
"""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
import time_machine
from django.core.management import call_command

from accounts.models import JournalEntry
from inspection.fieldwork.models import ThicknessRecord
from inspection.standing import actions
from inspection.standing.models import Standing
from inspection.standing.queries import compute
from tests.cast import Cast
from tests.past_triggers import rewrite
from tests.standing.scene import (
    clock,
    correct,
    fall,
    measure,
    new_gauge_certificate,
    told,
    verify,
    withdraw,
)

LATER = datetime(2026, 3, 9, 12, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _days_later() -> object:
    with time_machine.travel(LATER, tick=False):
        yield


def standing(record: ThicknessRecord) -> Standing:
    return Standing.objects.get(record=record)


def test_checked_before_and_after_on_valid_shims_is_sound(cast: Cast) -> None:
    before = verify(cast, "06:40")
    record = measure(cast, "09:00", "09:40")
    after = verify(cast, "17:30")
    found = standing(record)
    assert (found.state, found.reasons) == ("sound", [])
    assert (found.opening, found.closing, found.due_at) == (before, after, clock("18:00"))


def test_provisional_until_the_shift_ends_then_in_question_then_sound_by_a_late_check(cast: Cast) -> None:
    with time_machine.travel(clock("12:00"), tick=False):
        verify(cast, "06:40")
        record = measure(cast, "09:00", "09:40")
        assert standing(record).state == "provisional"
        assert standing(record).reasons == ["The check after work is still awaited; it is due by 18:00."]
        assert actions.sweep_due() == []
    with time_machine.travel(clock("18:00"), tick=False):
        assert actions.sweep_due() == [record.pk]
        assert standing(record).state == "in_question"
        assert standing(record).reasons == ["There is no check after work in the shift that ends at 18:00."]
    verify(cast, "17:30")
    assert standing(record).state == "sound"


@pytest.mark.parametrize(
    ("checks", "state", "words"),
    [
        ((("09:10", 0), ("17:30", 0)), "in_question", "not checked in this shift before the first reading"),
        ((("05:59", 0), ("17:30", 0)), "in_question", "not checked in this shift before the first reading"),
        ((("06:40", 0), ("18:00", 0)), "in_question", "There is no check after work in the shift that ends at 18:00"),
        ((("06:40", 30_000), ("17:30", 0)), "in_question", "The check before work, at 06:40, failed"),
        ((("06:40", 30_000), ("06:50", 0), ("17:30", 0)), "sound", ""),
        ((("06:40", 0), ("17:30", 30_000)), "in_question", "all readings since the last passing check are suspect"),
        ((("06:40", 0), ("17:30", 30_000), ("17:40", 0)), "in_question", "The check after work, at 17:30, failed"),
        ((("06:40", 0), ("12:00", 0), ("17:30", 30_000)), "sound", ""),
        ((("06:40", 0), ("09:20", 30_000), ("17:30", 0)), "in_question", "A check in between, at 09:20, failed"),
        ((("06:40", 0), ("09:20", 0), ("17:30", 0)), "sound", ""),
        ((("06:40", 0), ("09:00", 0), ("09:40", 0)), "sound", ""),
    ],
)
def test_which_checks_bracket_the_readings(
    cast: Cast, checks: tuple[tuple[str, int], ...], state: str, words: str
) -> None:
    record = measure(cast, "09:00", "09:40")
    for at, off_by_nm in checks:
        verify(cast, at, off_by_nm=off_by_nm)
    found = standing(record)
    assert found.state == state
    assert words in " ".join(found.reasons)


def test_a_check_after_adjusting_says_nothing_of_the_readings_before_it(cast: Cast) -> None:
    # Common practice, no source: what a gauge reads once it is set right does not show what it read before.
    verify(cast, "06:40", adjustment="two-point")
    record = measure(cast, "09:00", "09:40")
    verify(cast, "17:30", adjustment="two-point")
    assert standing(record).state == "in_question"
    assert "at 17:30, was made after adjusting the gauge" in standing(record).reasons[0]
    verify(cast, "17:20")
    assert standing(record).state == "sound"
    verify(cast, "09:20", adjustment="zero")
    assert standing(record).reasons == ["The gauge was adjusted in between, at 09:20, while the readings were taken."]


def test_one_check_cannot_both_open_and_close(cast: Cast) -> None:
    record = measure(cast, "09:00", "09:00")
    verify(cast, "09:00")
    assert standing(record).closing is None
    assert standing(record).state == "in_question"


def test_readings_that_run_over_the_end_of_the_shift_are_in_question(cast: Cast) -> None:
    verify(cast, "06:40")
    record = measure(cast, "17:50", "18:10")
    verify(cast, "18:30")
    assert standing(record).state == "in_question"
    assert "run on past the end of the shift at 18:00" in standing(record).reasons[0]


def test_a_fall_between_the_checks_casts_doubt_and_one_after_them_does_not(cast: Cast) -> None:
    verify(cast, "06:40")
    record = measure(cast, "09:00", "09:40")
    verify(cast, "17:30")
    fall(cast, "17:45")
    assert standing(record).state == "sound"
    fall(cast, "14:10")
    assert standing(record).state == "in_question"
    assert standing(record).reasons == ["At 14:10 an incident with the gauge was reported, such as a fall."]


def test_a_withdrawn_shim_certificate_puts_the_records_in_question_and_a_new_version_restores_them(cast: Cast) -> None:
    verify(cast, "06:40")
    record = measure(cast, "09:00", "09:40")
    verify(cast, "17:30")
    withdraw(cast, cast.shim_certificate)
    assert standing(record).state == "in_question"
    assert standing(record).reasons == [
        f"Check {when} work: S-50, S-250: certificate CS-1 was withdrawn on 2026-03-09: the laboratory's oven was out."
        for when in ("before", "after")
    ]
    correct(cast, cast.shim_certificate)
    assert standing(record).state == "sound"


def test_a_withdrawn_certificate_higher_up_the_chain_counts_too(cast: Cast) -> None:
    from inspection.instruments.models import Certificate

    parent = Certificate.objects.create(
        number="CP-1", laboratory="Upper Laboratory", issued=date(2024, 1, 1), expires=date(2027, 1, 1),
        traceable_to="National institute", recorded_by=cast.quinn,
    )  # fmt: skip
    rewrite(Certificate.objects.filter(pk=cast.shim_certificate.pk), parent=parent)
    verify(cast, "06:40")
    record = measure(cast, "09:00", "09:40")
    verify(cast, "17:30")
    assert standing(record).state == "sound"
    withdraw(cast, parent)
    assert standing(record).state == "in_question"
    assert "certificate CS-1 is traceable to certificate CP-1, withdrawn" in standing(record).reasons[0]


def test_an_expired_gauge_certificate_counts_and_a_certificate_entered_late_mends_it(cast: Cast) -> None:
    from inspection.instruments.models import Certificate

    rewrite(Certificate.objects.filter(pk=cast.gauge_certificate.pk), expires=date(2026, 3, 3))
    verify(cast, "06:40")
    record = measure(cast, "09:00", "09:40")
    verify(cast, "17:30")
    assert standing(record).state == "in_question"
    assert "gauge G-01: certificate CG-1 expired on 2026-03-03" in standing(record).reasons[0]
    new_gauge_certificate(cast, "CG-2", date(2026, 3, 4), date(2027, 3, 4))
    assert standing(record).state == "sound"


def test_a_corrected_value_is_judged_again_and_may_no_longer_pass(cast: Cast) -> None:
    verify(cast, "06:40")
    record = measure(cast, "09:00", "09:40")
    verify(cast, "17:30")
    small = correct(cast, cast.shim_certificate, more_nm=300)
    assert standing(record).state == "sound"
    correct(cast, small, more_nm=20_000)
    assert standing(record).state == "in_question"
    assert (
        "The check before work, at 06:40, does not pass with the corrected values of certificate CS-1 v3."
        in standing(record).reasons
    )


def test_readings_beyond_ten_percent_of_the_checked_range_are_counted(cast: Cast) -> None:
    # The shims are certified at 50.2 and 249.8 µm: 45.18 to 274.78 µm with the allowance.
    verify(cast, "06:40")
    inside = measure(cast, "09:00", "09:40", values_um=(45.2, 100, 274.7))
    outside = measure(cast, "10:00", "10:40", values_um=(45.1, 100, 274.8, 300))
    verify(cast, "17:30")
    assert standing(inside).state == "sound"
    assert standing(outside).state == "in_question"
    assert standing(outside).reasons == [
        f"3 of 4 readings lie more than 10 % outside the 50.2 to 249.8 µm covered by the check {when} work."
        for when in ("before", "after")
    ]


def test_the_range_is_compared_with_what_the_gauge_showed_before_any_correction(cast: Cast) -> None:
    verify(cast, "06:40")
    record = measure(cast, "09:00", "09:40", values_um=(60, 100), correction_nm=25_000)
    verify(cast, "17:30")
    assert record.lowest_nm == 35_000
    assert standing(record).state == "sound"


def test_a_replaced_record_keeps_a_standing_of_its_own(cast: Cast) -> None:
    verify(cast, "06:40")
    old = measure(cast, "09:00", "09:40")
    measure(cast, "09:00", "09:40", replaces=old)
    verify(cast, "17:30", off_by_nm=30_000)
    assert standing(old).state == "in_question"


def test_a_check_made_for_another_project_counts_for_its_gauge(cast: Cast) -> None:
    verify(cast, "06:40", site=cast.foreign)
    record = measure(cast, "09:00", "09:40")
    verify(cast, "17:30", site=cast.foreign)
    assert standing(record).state == "sound"


def test_a_change_is_journalled_once_a_batch_and_no_change_is_not(cast: Cast) -> None:
    verify(cast, "06:40")
    records = [measure(cast, "09:00", "09:40", tell=False) for _ in range(3)]
    told(records=[record.pk for record in records])
    entries = JournalEntry.objects.filter(verb="standing.changed")
    assert entries.count() == 1
    assert entries.get().after == {str(record.pk): "in_question" for record in records}
    assert entries.get().project_id == cast.site.project.pk
    told(records=[record.pk for record in records])
    assert entries.count() == 1


def test_the_check_command_finds_what_was_not_kept_true(cast: Cast, capsys: pytest.CaptureFixture[str]) -> None:
    verify(cast, "06:40")
    record = measure(cast, "09:00", "09:40")
    call_command("standing", "--check")
    assert "1 records, 0 stored otherwise" in capsys.readouterr().out
    verify(cast, "17:30", tell=False)
    with pytest.raises(SystemExit) as stop:
        call_command("standing", "--check")
    assert stop.value.code == 1
    assert f"{record.pk}: stored in_question, from facts sound" in capsys.readouterr().out
    call_command("standing")
    call_command("standing", "--check")


def test_facts_of_thirty_records_take_as_many_queries_as_of_three(
    cast: Cast, django_assert_max_num_queries: object
) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    verify(cast, "06:40")
    correct(cast, cast.shim_certificate, more_nm=100)
    records = [measure(cast, "09:00", "09:40", values_um=(20, 100), tell=False).pk for _ in range(30)]
    counts = []
    for wanted in (records[:3], records):
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert len(compute(wanted, LATER)) == len(wanted)
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 12
