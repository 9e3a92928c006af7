"""What the report says: read back from the PDF a client would get, and from the facts under it."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date, timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from accounts.models import Qualification
from inspection.foundation.ids import new_id
from inspection.holdpoints.models import Requirement
from inspection.instruments.actions import StandardValue
from inspection.instruments.models import Certificate
from inspection.nonconformance.actions import About, drop_draft, look_at, mark_done, open_item, raise_once, say
from inspection.nonconformance.models import Nonconformance
from inspection.projects.models import Project
from inspection.recall.actions import recall
from reports.daily.facts import DayFacts, Stamp
from reports.daily.gathering import gather
from reports.daily.pdf import draw
from tests.cast import DAY, MORNING, Cast, scheme
from tests.holdpoints.planned import a_line
from tests.holdpoints.planned import plan_of as inspection_plan_of
from tests.past_triggers import rewrite
from tests.reports.day import CLOSING, HOUR, check, climate, decide, long_day, measure, point, worked


def facts_of(cast: Cast) -> DayFacts:
    return gather(Project.objects.get(pk=cast.site.project.pk), DAY)


def pages(content: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(content)).pages]


def told(cast: Cast, stamp: Stamp | None = None) -> str:
    return " ".join(pages(draw(facts_of(cast), stamp)))


def test_the_report_names_project_client_day_and_people(cast: Cast) -> None:
    worked(cast)
    Qualification.objects.create(
        person=cast.ines, scheme=scheme(), level="2", number="CI-17", issued=date(2025, 1, 1),
        expires=date(2027, 1, 1),
    )  # fmt: skip
    text = told(cast)
    for words in (
        "P-1 Works P-1", "Owner One", "The Company", "P-1-20260304", "Wednesday 04 March 2026", "Tank",
        "Ines Inspector", "1 climate record, 1 thickness record, 2 gauge checks",
        "Coating inspector 2, CI-17, valid to 2027-01-01",
    ):  # fmt: skip
        assert words in text


def test_the_thickness_table_gives_rule_limits_figures_verdict_and_standing(cast: Cast) -> None:
    record = worked(cast)
    row = facts_of(cast).thicknesses[0]
    assert (row.minimum_nm, row.nominal_nm, row.maximum_nm) == (60_000, 75_000, 120_000)
    assert len(row.values_nm) == row.wanted == 15
    assert (row.mean_nm, row.verdict, row.standing) == (record.mean_nm, "pass", "sound")
    text = told(cast)
    assert "SSPC-PA 2, restriction level 3" in text
    assert "minimum 60.0, nominal 75.0, maximum 120.0 µm" in text
    assert "Ines Inspector 15 89" in text
    assert "✔ Pass ✔ Sound" in text


def test_a_later_coat_is_reported_against_the_sum_of_the_coats(cast: Cast) -> None:
    """Common practice, no source: a gauge shows all layers down to the metal."""
    check(cast, "opening", MORNING)
    measure(cast, MORNING + HOUR, coat=3, mean_um=270)
    row = facts_of(cast).thicknesses[0]
    assert (row.minimum_nm, row.nominal_nm, row.maximum_nm) == (200_000, 250_000, 410_000)


def test_what_fails_is_explained_with_limit_and_finding(cast: Cast) -> None:
    check(cast, "opening", MORNING)
    measure(cast, MORNING + HOUR, coat=2, mean_um=150)
    climate(cast, MORNING + HOUR, steel="11.0")
    text = told(cast)
    assert "The mean of all values is at least the nominal thickness. (clause 9) 200 µm" in text
    assert "readings 1–15" in text
    assert "warmer than the dew point" in text
    assert "✘ Fail" in text


def test_readings_still_wanted_are_told(cast: Cast) -> None:
    check(cast, "opening", MORNING)
    measure(cast, MORNING + HOUR, coat=2, mean_um=230, short=3)
    assert "A1, Intermediate: 12 readings of 15; no verdict before the rest are taken." in told(cast)


def test_climate_is_told_with_dew_point_margin_and_limits(cast: Cast) -> None:
    """18.0 °C dry, 14.0 °C wet, sea level: the reference library psychrolib's dew point, within its tolerance here."""
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    climate(cast, MORNING)
    row = facts_of(cast).climates[0]
    assert row.dew_point_c == pytest.approx(psychrolib.GetTDewPointFromTWetBulb(18.0, 14.0, 101325), abs=0.2)
    assert row.margin_c == pytest.approx(17.0 - row.dew_point_c)
    assert "Primer: at least 3.0 °C above the dew point, humidity at most 85.0 %" in told(cast)


def test_instruments_are_told_with_their_papers_and_checks(cast: Cast) -> None:
    worked(cast)
    text = told(cast)
    for words in (
        "G-01, coating thickness gauge, serial 1001", "Certificate CG-1, expires 2026-09-01: ✔ valid that day",
        "07:00 Opening, before work: ✔ Pass.", "15:00 Closing, after work: ✔ Pass.",
        "Tolerance: accuracies combined as the root of the sum of the squares.",
        "S-125 125.4 3 125.6 +0.2", "CS-1, expires 2026-09-01, ✔ valid that day: S-125, S-250, S-50",
    ):  # fmt: skip
        assert words in text


def test_a_certificate_withdrawn_since_is_told(cast: Cast) -> None:
    worked(cast)
    rewrite(
        Certificate.objects.filter(number="CS-1"),
        withdrawn_at=MORNING,
        withdrawn_by=cast.quinn,
        withdrawal_reason="oven out of order",
    )
    assert "▲ certificate CS-1 was withdrawn on 2026-03-04: oven out of order" in told(cast)


def test_records_that_are_not_sound_say_why(cast: Cast) -> None:
    check(cast, "opening", MORNING)
    measure(cast, MORNING + HOUR)
    standing = facts_of(cast).thicknesses[0]
    assert standing.standing != "sound"
    assert standing.reasons[0] in told(cast)


def test_points_are_told_as_they_stood_when_the_day_ended(cast: Cast) -> None:
    record = worked(cast)
    released, waiting = point(cast, cast.site.area, 1), point(cast, cast.site.area, 2, "Intermediate complete")
    measure(cast, MORNING + 3 * HOUR, coat=2, mean_um=230)
    decide(cast, released, "released", CLOSING, record)
    decide(cast, waiting, "refused", CLOSING + 24 * HOUR, record, "Runs at the north corner")
    rows = {row.title: (row.state, row.signed_as) for row in facts_of(cast).points}
    assert rows == {
        "Primer complete": ("released", "Clara Client, Owner One"),
        "Intermediate complete": ("waiting", ""),
    }
    decide(cast, released, "closed", CLOSING, record, "Stainless")
    assert "– Not applicable 1" in told(cast)


def test_a_witness_point_that_passed_is_told_as_passed_as_of_the_days_end(cast: Cast) -> None:
    worked(cast)
    measure(cast, MORNING + 3 * HOUR, coat=2, mean_um=230)
    plan = inspection_plan_of(cast)
    one, two = (a_line(plan, number, letters={"client": "witness"}) for number in ("1", "2"))
    point(cast, cast.site.area, 1, "Witnessed", line=one, kind="witness")
    wanted = point(cast, cast.site.area, 2, "Salts too", line=two, kind="witness")
    Requirement.objects.create(point=wanted, kind="salts", coat=None)
    Requirement.objects.create(point=wanted, kind="thickness", coat=cast.site.coats[1], how_many=2)
    point(cast, cast.site.area, 1, "Held")
    told_of = {"Witnessed": "passed", "Salts too": "waiting", "Held": "waiting"}
    assert {row.title: row.state for row in facts_of(cast).points} == told_of
    text = told(cast)
    assert ("✔ Passed 1" in text, "○ Waiting 2" in text) == (True, True)
    # What is measured the day after, thin, is told on that day; a failure of the day itself takes the word away.
    check(cast, "opening", MORNING + 24 * HOUR)
    measure(cast, MORNING + 26 * HOUR, mean_um=40)
    assert {row.title: row.state for row in facts_of(cast).points} == told_of
    measure(cast, MORNING + 4 * HOUR, mean_um=40, seed=2)
    assert {row.title: row.state for row in facts_of(cast).points}["Witnessed"] == "waiting"


def test_each_word_of_the_day_on_a_point_is_told_a_waiver_too(cast: Cast) -> None:
    record = worked(cast)
    held = point(cast, cast.site.area, 1)
    decide(cast, held, "refused", MORNING + 3 * HOUR, record, "Dust in the corners")
    decide(cast, held, "waived", CLOSING, record, "Blown down; photographs seen")
    (row,) = facts_of(cast).points
    assert (row.state, row.reason) == ("waived", "Blown down; photographs seen")
    assert [(said.outcome, said.reason) for said in row.also] == [("Refused", "Dust in the corners")]
    text = told(cast)
    for words in ("✔ Waived", "Dust in the corners", "Blown down; photographs seen"):
        assert words in text


def test_a_point_that_work_went_on_over_is_told_as_passed_over(cast: Cast) -> None:
    worked(cast)
    point(cast, cast.site.area, 1, planned_at=MORNING - HOUR)
    measure(cast, MORNING + 3 * HOUR, coat=2, mean_um=230)
    (row,) = facts_of(cast).points
    assert (row.title, row.passed_over) == ("Primer complete", MORNING + 3 * HOUR)
    text = told(cast)
    assert "▲ Passed over 1" in text
    assert "work went on at" in text


def test_a_draft_that_nobody_issued_is_told_as_one_and_its_reason_is_no_repair(cast: Cast) -> None:
    with time_machine.travel(MORNING + HOUR, tick=False):
        about = About(area=cast.site.area, coat=cast.site.coats[0])
        drafted, _ = raise_once(
            cast.ines, id=new_id(), project=cast.site.project, about=about, title="Runs", as_draft=True
        )
        drop_draft(cast.quinn, nonconformance=drafted, reason="Seen elsewhere")
    (row,) = facts_of(cast).nonconformances
    assert (row.draft, row.repair, row.that_day) == (True, "", "raised and closed")
    assert "Runs, a draft, not issued" in told(cast)


def test_nonconformances_are_told_as_they_stood_when_the_day_ended(cast: Cast) -> None:
    old = Nonconformance.objects.create(
        project=cast.site.project, number=90, area=cast.site.area, coat=cast.site.coats[0], title="Runs",
        raised_at=MORNING - 24 * HOUR, state="closed", closed_at=MORNING + HOUR, repair="Sanded",
    )  # fmt: skip
    Nonconformance.objects.create(
        project=cast.site.project, number=91, area=cast.site.area, coat=cast.site.coats[0], title="Dry spray",
        raised_at=MORNING, state="closed", closed_at=MORNING + 30 * HOUR, repair="Ground off",
    )  # fmt: skip
    rows = {row.number: (row.that_day, row.repair) for row in facts_of(cast).nonconformances}
    assert rows == {old.number: ("closed", "Sanded"), 91: ("raised", "")}


def test_corrections_and_voided_readings_are_told(cast: Cast) -> None:
    check(cast, "opening", MORNING)
    first = measure(cast, MORNING + HOUR, mean_um=50)
    measure(
        cast, MORNING + HOUR, mean_um=90, replaces=first, replacement_reason="Readings of another area",
        voided="probe on an edge",
    )  # fmt: skip
    facts = facts_of(cast)
    assert len(facts.thicknesses) == 1
    assert {(row.reason, row.by) for row in facts.corrections} == {
        ("Readings of another area", "Ines Inspector"),
        ("probe on an edge", "Ines Inspector"),
    }
    assert 400_000 not in facts.thicknesses[0].values_nm
    assert "spot 1, reading 1 (400.0 µm) voided" in told(cast)


def test_the_day_is_the_projects_own(cast: Cast) -> None:
    """The night shift until 06:00 belongs to the day on which it began."""
    climate(cast, MORNING - 2 * HOUR)
    assert facts_of(cast).climates == ()
    climate(cast, MORNING + 22 * HOUR)
    assert len(facts_of(cast).climates) == 1


def test_thickness_is_told_in_the_projects_unit(cast: Cast) -> None:
    worked(cast)
    Project.objects.filter(pk=cast.site.project.pk).update(unit="mil")
    assert "minimum 2.36, nominal 2.95, maximum 4.72 mil" in told(cast)


def test_the_same_facts_give_the_same_bytes(cast: Cast) -> None:
    worked(cast)
    stamp = Stamp(1, "Quinn Quality, The Company", CLOSING, "")
    first, second = draw(facts_of(cast), stamp), draw(facts_of(cast), stamp)
    assert first == second
    assert draw(replace(facts_of(cast), client="Another")) != draw(facts_of(cast))


def test_every_page_carries_number_state_and_digest(cast: Cast) -> None:
    long_day(cast, 12)
    facts = facts_of(cast)
    drafts, issued = pages(draw(facts)), pages(draw(facts, Stamp(3, "Quinn Quality", CLOSING, "Late record")))
    assert len(drafts) > 2
    for number, page in enumerate(drafts, 1):
        assert f"Page {number} of {len(drafts)}" in page
        assert facts.digest in page
        assert "DRAFT" in page
    for page in issued:
        assert "Revision 3" in page
        assert "DRAFT" not in page
    assert "Why there is a new revision: Late record" in issued[0]


def test_fonts_are_embedded(cast: Cast) -> None:
    reader = PdfReader(io.BytesIO(draw(facts_of(cast))))
    fonts = [font.get_object() for font in reader.pages[0]["/Resources"]["/Font"].values()]
    used = [font for font in fonts if "DejaVu" in font["/BaseFont"]]
    assert used
    assert all("/FontFile2" in font["/FontDescriptor"] for font in used)


def test_a_day_of_many_areas_asks_as_often_as_a_day_of_few(cast: Cast) -> None:
    long_day(cast, 3)

    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            facts_of(cast)
        return len(queries)

    few = asked()
    for number in range(30):
        measure(cast, MORNING + 5 * HOUR + timedelta(minutes=number), seed=number)
        climate(cast, MORNING + 5 * HOUR + timedelta(minutes=number))
    assert asked() == few


def test_a_day_without_records_says_so(cast: Cast) -> None:
    facts = facts_of(cast)
    assert facts.nothing_recorded
    assert "Nothing was recorded on this day." in told(cast)


def test_a_report_holds_nothing_of_another_project(cast: Cast) -> None:
    worked(cast)
    measure(cast, MORNING + HOUR, site=cast.foreign, by=cast.igor)
    text = told(cast)
    for words in ("P-2", "Owner Two", "Igor"):
        assert words not in text


def test_a_condition_of_one_area_of_several_says_which(cast: Cast) -> None:
    """SSPC-PA 2 divides 60 m² into areas of about 10 m², each judged by itself."""
    check(cast, "opening", MORNING)
    measure(cast, MORNING + HOUR, area=cast.site.other_area, mean_um=30)
    where = {check.where for row in facts_of(cast).thicknesses for check in row.failed}
    assert {"area 1", "area 2"} <= where
    assert "area 2, spots 1–5" in told(cast)


@pytest.mark.parametrize(
    ("nm", "words"), [(0, "0.0"), (-20, "0.0"), (20, "0.0"), (400, "+0.4"), (-400, "−0.4"), (-10_000, "−10.0")]
)
def test_an_error_is_told_with_its_sign_and_nought_without(nm: float, words: str) -> None:
    from reports.daily.pdf.pieces import signed

    assert signed(nm, "um") == words


def test_a_revision_after_a_corrected_value_tells_one_story(cast: Cast) -> None:
    """The check is told with the value that counts now, as its records are judged; what was found stands beside it."""
    worked(cast)
    value = StandardValue(cast.shims[50], 58_000, 1_000)
    recall(cast.quinn, certificate=cast.shim_certificate, reason="oven at fault", corrected=[value])
    facts = facts_of(cast)
    assert {row.standing for row in facts.thicknesses} == {"in_question"}
    for gauge_check in facts.instruments[0].checks:
        assert gauge_check.verdict == "fail"
        assert [point.verdict for point in gauge_check.points] == ["fail", "pass", "pass"]
    text = told(cast, Stamp(2, "Quinn Quality, The Company", CLOSING, "A value was corrected"))
    assert "does not pass with the corrected values of certificate CS-1" in text
    assert "07:00 Opening, before work: ✘ Fail." in text
    assert "S-50 58.0 3 50.6 −7.4" in text
    assert "S-50 50.2" not in text
    assert "As found then, relying on 50.2, 125.4, 249.8 µm: pass." in text


def test_a_value_corrected_within_the_tolerance_leaves_the_check_passed(cast: Cast) -> None:
    worked(cast)
    value = StandardValue(cast.shims[50], 50_300, 1_000)
    recall(cast.quinn, certificate=cast.shim_certificate, reason="typing error", corrected=[value])
    text = told(cast)
    assert "S-50 50.3 3 50.6 +0.3" in text
    assert "Judged with the corrected values, as shown here, it still passes." in text
    assert {row.standing for row in facts_of(cast).thicknesses} == {"sound"}


def test_what_arrives_late_belongs_to_the_day_of_the_measurement_and_is_marked(cast: Cast) -> None:
    with time_machine.travel(MORNING + 50 * HOUR, tick=False):
        check(cast, "opening", MORNING)
        measure(cast, MORNING + HOUR, mean_um=45)
        climate(cast, MORNING + HOUR)
    facts = facts_of(cast)
    (one,) = facts.nonconformances
    assert (one.that_day, one.late) == ("raised", MORNING + 50 * HOUR)
    text = told(cast)
    assert "Nonconformances ▲ Raised 1" in text
    assert ", late" in text
    assert text.count("Came in late, after the day had ended") == 2
    assert text.count("2026-03-06 09:00: A1, Primer") == 2
    for later in (1, 2):
        (then,) = gather(cast.site.project, DAY + timedelta(days=later)).nonconformances
        assert then.that_day == "open"


def test_what_was_raised_without_a_measurement_belongs_to_the_day_on_which_it_was(cast: Cast) -> None:
    Nonconformance.objects.create(
        project=cast.site.project, number=1, area=cast.site.area, coat=cast.site.coats[0], title="Runs",
        raised_by=cast.ines, raised_at=MORNING + 25 * HOUR,
    )  # fmt: skip
    assert facts_of(cast).nonconformances == ()
    (one,) = gather(cast.site.project, DAY + timedelta(days=1)).nonconformances
    assert (one.that_day, one.late) == ("raised", None)


def test_what_was_rejected_is_told_with_who_looked_again_and_both_ways_with_its_record(cast: Cast) -> None:
    check(cast, "opening", MORNING)
    with time_machine.travel(MORNING + 3 * HOUR, tick=False):
        record = measure(cast, MORNING + HOUR, mean_um=40)
        raised = Nonconformance.objects.get(record=record)
        item, _ = open_item(
            cast.ines, id=new_id(), area=cast.site.area, coat=cast.site.coats[0], what="Runs", place="By the ladder"
        )
    with time_machine.travel(MORNING + 4 * HOUR, tick=False):
        say(cast.quinn, nonconformance=raised, kind="grade", text="Clause 9 is not kept", choice="major")
        mark_done(cast.ines, item=item, what="Sanded", done_by="Pat Painter", done_at=MORNING + 4 * HOUR)
    with time_machine.travel(MORNING + 5 * HOUR, tick=False):
        look_at(cast.quinn, item=item, in_order=False, note="Still there")
    with time_machine.travel(MORNING + 25 * HOUR, tick=False):
        say(cast.quinn, nonconformance=raised, kind="cause", text="Tip worn")
    facts = facts_of(cast)
    (one,), (again,) = facts.nonconformances, facts.rework
    assert (one.grade, one.of_record) == ("Major", str(record.pk))
    assert [said.outcome for said in one.said] == ["Class: major"]
    assert (again.state, [said.outcome for said in again.said]) == ("Open", ["Done", "Looked at and not in order"])
    text = told(cast)
    number = f"NC-{raised.number:03d}"
    for words in (
        f"A1, Primer: {number}", "on Thickness of 2026-03-04 08:00", "Still there",
        f"{number}: Class: major 11:00, Quinn Quality, The Company: Clause 9 is not kept",
    ):  # fmt: skip
        assert words in text, words
    assert "Tip worn" not in text
