"""The work in a day's report: batches, mixes and lots, as they stood when it ended."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import time_machine

from inspection.fieldwork.models import ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.nonconformance.actions.by_hand import raise_nonconformance
from inspection.nonconformance.models import Nonconformance
from inspection.notices.actions.steps import move_notice, withdraw_notice
from inspection.projects.models import InspectionArea, Party
from inspection.works.lots.actions import begin_lot, correct_lot
from inspection.works.lots.checks import LotSent, PlaceSent
from inspection.works.models import BatchStep, Crew, Lot, LotMix, Mix
from inspection.works.paint.batches import correct_batch
from inspection.works.paint.mixes import MixSent, correct_mix, withdraw_mix
from inspection.works.paint.reckoning import PartSent
from reports.daily import actions
from reports.daily.dividing import declare_reporting
from reports.daily.gathering import gather
from reports.daily.models import DailyReport
from reports.daily.work_corrections import days_corrected
from tests.cast import DAY, MORNING, Cast
from tests.notices.scene import FRIDAY, give, planned
from tests.reports.day import decide, measure, point, worked
from tests.reports.test_content import facts_of, told
from tests.works.test_lot_mixes import mixed

HOUR = timedelta(hours=1)


def crew_of(cast: Cast) -> Crew:
    party = Party.objects.get(project=cast.site.project, kind=Party.Kind.INSPECTION)
    return Crew.objects.create(project=cast.site.project, party=party, name="Days")


def lot_of(cast: Cast, crew: Crew, number: int, *, begun: float = 0, ended: float | None = 2, **more: object) -> Lot:
    """The primer on area A1; hours are from the cast's morning on."""
    lot: Lot = Lot.objects.create(
        project=cast.site.project, number=number, activity="coat", method="airless", crew=crew, digest="0" * 64,
        coat=cast.site.coats[0], begun_at=MORNING + begun * HOUR, entered_by=cast.ines,
        ended_at=None if ended is None else MORNING + ended * HOUR, **{"entered_at": MORNING + HOUR, **more},
    )  # fmt: skip
    lot.places.create(area=cast.site.area, m2=Decimal("6.5"))
    return lot


def test_lots_mixes_and_batches_of_the_day_are_told_as_they_stood_at_its_end(cast: Cast) -> None:
    crew, party = crew_of(cast), Party.objects.get(project=cast.site.project, kind=Party.Kind.INSPECTION)
    mix = mixed(cast, party, thinner_pct=Decimal(5), entered_at=MORNING, paint_c=Decimal("19.5"))
    old = mixed(cast, party, 2, expires_on=date(2026, 3, 1), gone_over=["K-2 had expired."], reason="None other")
    BatchStep.objects.create(
        batch=old.parts.get().batch, what="quarantined", at=MORNING + 3 * HOUR, why="Dented", entered_by=cast.quinn
    )
    first = lot_of(cast, crew, 1, tip="0.021 in", pressure_bar=Decimal(180), note="Shaded side first")
    LotMix.objects.create(lot=first, mix=mix, drawn_l=Decimal(8), returned_l=Decimal(1))
    lot_of(cast, crew, 2, begun=4, ended=30, entered_at=MORNING + 40 * HOUR)
    lot_of(cast, crew, 3, begun=-20, ended=-15)
    lot_of(cast, crew, 4, withdrawn_at=MORNING)
    facts = facts_of(cast)
    assert [(row.number, row.m2, row.ended_at is None, bool(row.late)) for row in facts.lots] == [
        (1, 6.5, False, False), (2, 6.5, True, True)
    ]  # fmt: skip
    assert facts.lots[0].paint == ("Mix 1: 8 l drawn, 1 l returned",)
    assert {row.number: (row.is_fit, row.used_l, row.that_day) for row in facts.batches} == {
        "K-1": (True, 20.0, ()), "K-2": (False, 20.0, ("Put in quarantine: Dented",)),
    }  # fmt: skip
    text = told(cast)
    for words in (
        "Lots prepared and coated", "Days, The Company", "07:00 to 09:00", "11:00 to under way", "A1 6.5",
        "Airless spray: tip 0.021 in, pressure 180 bar", "Shaded side first", "thinner 5 %", "paint at 19.5 °C",
        "Mix 2: K-2 had expired. Why it was: None other", "In quarantine", "2026-03-05 23:00: lot 2",
    ):  # fmt: skip
        assert words in text, words
    # Sound order of the paper: the paint before what was done with it, that before its film.
    assert text.index("Batches") < text.index("Lots prepared") < text.index("Dry film thickness")


def test_a_corrected_lot_is_told_as_it_is_now_and_once_as_a_correction(cast: Cast) -> None:
    crew, area = crew_of(cast), InspectionArea.objects.get(pk=cast.site.area.pk)
    sent = LotSent(
        activity="blast", method="dryblast", crew=crew, places=[PlaceSent(area=area)], begun_at=MORNING,
        ended_at=MORNING + HOUR,
    )  # fmt: skip
    with time_machine.travel(MORNING + 3 * HOUR, tick=False):
        lot, _ = begin_lot(cast.ines, id=new_id(), project=cast.site.project, sent=sent, confirmed=True)
        sent = replace(sent, places=[PlaceSent(area=area, m2=Decimal(5))])
        correct_lot(cast.ines, lot=lot, id=new_id(), sent=sent, reason="Half of it was left", confirmed=True)
    facts = facts_of(cast)
    assert [(row.number, row.m2, row.late) for row in facts.lots] == [(1, 5.0, None)]
    (one,) = facts.corrections
    assert (one.what, one.reason) == ("Lot 1: Blast cleaning", "Half of it was left")
    assert one.change == "A1 8 m², 07:00–08:00, became A1 5 m², 07:00–08:00"
    # A day of nothing but lots has its draft built by itself.
    actions.queue_daily_reports(MORNING + 24 * HOUR)
    assert DailyReport.objects.filter(project=cast.site.project, day=DAY).exists()


def test_corrected_and_withdrawn_mixes_batches_and_lots_are_told_once_with_what_changed(cast: Cast) -> None:
    crew = crew_of(cast)
    mix = mixed(cast, crew.party, entered_at=MORNING)
    mixed(cast, crew.party, 2, entered_at=MORNING)
    batch = mix.parts.get().batch
    lot = lot_of(cast, crew, 1, tip="0.021 in")
    evening, later = MORNING + 13 * HOUR, MORNING + 30 * HOUR
    with time_machine.travel(evening, tick=False):
        correct_batch(cast.quinn, batch=batch, reason="Label read again", expires_on=date(2026, 12, 1), confirmed=True)
        sent = LotSent(
            activity="coat", coat=lot.coat, method="airless", crew=crew, tip="0.019 in", begun_at=lot.begun_at,
            ended_at=lot.ended_at, places=[PlaceSent(area=cast.site.area, m2=Decimal("6.5"))],
        )  # fmt: skip
        correct_lot(cast.ines, lot=lot, id=new_id(), sent=sent, reason="The smaller tip", confirmed=True)
    with time_machine.travel(later, tick=False):
        sent = MixSent(
            coat=mix.coat, mixed_at=mix.mixed_at, stirred="hand", parts=[PartSent(batch=batch, amount=Decimal(18))],
            paint_c=Decimal("19.5"),
        )  # fmt: skip
        correct_mix(cast.quinn, mix=mix, sent=sent, why="Weighed again", confirmed=True)
        withdraw_mix(cast.quinn, mix=Mix.objects.get(number=2), reason="Entered twice")
    rest = "stirred power mixer became by hand; paint °C none became 19.5"
    told_of = [(row.what, row.change, row.reason) for row in facts_of(cast).corrections]
    assert told_of == [
        ("Lot 1: Primer", "tip “0.021 in” became “0.019 in”", "The smaller tip"),
        (
            f"Mix 1 for {mix.coat.told}",
            f"made of 20 l of {batch} became 18 l of {batch}; {rest}",
            "Weighed again",
        ),
        (f"Mix 2 for {mix.coat.told}", "withdrawn, it counts for nothing", "Entered twice"),
        (str(batch), "expires on 2027-01-01 became 2026-12-01", "Label read again"),
    ]
    # On the day on which they were entered what is of an earlier day is told as well.
    after = gather(cast.site.project, DAY + timedelta(days=1)).corrections
    assert [row.reason for row in after] == ["Weighed again", "Entered twice"]
    # By shifts: what was entered in the night is told with the day on whose mix it is.
    declare_reporting(cast.quinn, project=cast.site.project, one_a="shift", shift_names=("Day", "Night"), from_day=DAY)
    assert [row.reason for row in gather(cast.site.project, DAY, "Night").corrections] == ["Label read again"]
    assert len(gather(cast.site.project, DAY, "Day").corrections) == 3
    # Weeks later the draft of the day is built again by itself.
    assert DAY in days_corrected(cast.site.project, later, later + HOUR)


def test_progress_is_told_by_coat_as_of_the_days_end_with_what_the_day_added(cast: Cast) -> None:
    crew = crew_of(cast)
    lot_of(cast, crew, 1, begun=-22, ended=-20)
    lot_of(cast, crew, 2)
    lot_of(cast, crew, 3, begun=25, ended=26)
    with time_machine.travel(MORNING + 30 * HOUR, tick=False):
        worked(cast)
        measure(cast, MORNING + 26 * HOUR, mean_um=40)
    held = point(cast, cast.site.area, 1, planned_at=MORNING)
    decide(cast, held, "released", MORNING + 5 * HOUR, ThicknessRecord.objects.earliest("taken_at"))
    decide(cast, held, "refused", MORNING + 27 * HOUR, ThicknessRecord.objects.earliest("taken_at"))
    (primer,) = facts_of(cast).progress
    # Two lots of 6.5 m² on an area of 8: no more than the whole is claimed.
    assert (primer.step, primer.of_m2, primer.done) == ("Primer", 68.0, (8.0, 1.5))
    # It failed and was refused the day after; that day's report tells so, this one does not.
    assert (primer.inspected, primer.released) == ((8.0, 8.0), (8.0, 8.0))
    (after,) = gather(cast.site.project, DAY + timedelta(days=1)).progress
    assert (after.done, after.inspected, after.released) == ((8.0, 0.0), (0.0, -8.0), (0.0, -8.0))
    assert "Primer 68.0 8.0 +1.5 8.0 +8.0 8.0 +8.0" in told(cast)


def test_a_day_of_nothing_but_a_nonconformance_has_its_draft_which_tells_it_by_its_number(cast: Cast) -> None:
    project = cast.site.project
    with time_machine.travel(MORNING + HOUR, tick=False):
        raised = raise_nonconformance(cast.ines, area=cast.site.area, coat=cast.site.coats[0], title="Runs at bay 2")
    (job,) = actions.queue_daily_reports(MORNING + 24 * HOUR)
    assert DailyReport.objects.get(pk=job.about).day == DAY
    text = told(cast)
    assert f"NC-{raised.number:03d}" in text
    assert "Nothing was recorded" not in text
    # One that is raised the day after its measurement stands in both days' drafts: late in that of the measurement.
    with time_machine.travel(MORNING + 24 * HOUR, tick=False):
        measure(cast, MORNING + 2 * HOUR, mean_um=40)
    later = Nonconformance.objects.exclude(pk=raised.pk).get()
    of_day, after = (gather(project, DAY + timedelta(days=n)).nonconformances for n in (0, 1))
    assert {row.number: bool(row.late) for row in of_day} == {raised.number: False, later.number: True}
    assert {row.number: row.that_day for row in after} == {raised.number: "open", later.number: "open"}


def test_notices_of_the_next_days_are_told_as_they_stood_when_the_day_ended(cast: Cast) -> None:
    line = planned(cast)
    moved, gone, later = (give(cast, line, at=MORNING + n * HOUR) for n in (1, 2, 3))
    change = {"begins_at": FRIDAY + 2 * HOUR, "ends_at": FRIDAY + 3 * HOUR, "meeting_place": "Dock 2", "reason": "Tide"}
    move_notice(cast.ines, notice=moved, sequence=0, at=MORNING + 4 * HOUR, **change)
    withdraw_notice(cast.ines, notice=gone, reason="Rain", at=MORNING + 5 * HOUR)
    # What became of it the next day belongs to the next day's report.
    withdraw_notice(cast.ines, notice=later, reason="Rain", at=MORNING + 25 * HOUR)
    far = give(cast, line, at=MORNING + 6 * HOUR, begins_at=FRIDAY + 240 * HOUR, ends_at=FRIDAY + 241 * HOUR)
    rows = [(row.number, row.begins_at, row.meeting_place, row.became) for row in facts_of(cast).notices]
    # What was given that day is told, also where it was withdrawn at once, or lies further ahead than a week.
    assert rows == [
        (gone.number, FRIDAY, "Gangway", "withdrawn, Rain"), (later.number, FRIDAY, "Gangway", ""),
        (moved.number, FRIDAY + 2 * HOUR, "Dock 2", ""), (far.number, FRIDAY + 240 * HOUR, "Gangway", ""),
    ]  # fmt: skip
    text = told(cast)
    assert "Notices of inspection given that day or for the next days" in text
    assert f"N-{moved.number:03d} 2026-03-06 12:00 to 13:00" in text
    assert [row.number for row in gather(cast.site.project, DAY + timedelta(days=1)).notices] == [moved.number]
