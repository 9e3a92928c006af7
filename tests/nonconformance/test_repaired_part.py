"""A repaired part of an area: its own m² and plan; the area stands on its first record without what lies within it.

SSPC-PA 2, May 2012 (stored partial text): an area measurement is the mean of five spots over each 10 m²; areas of less
than 30 m² are measured on every 10 m². Level 3 holds spots to 80 % and 120 % of the specified minimum and maximum, the
area mean to these themselves (from memory). What remains without the part: at least three spots of an area (common
practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime
from decimal import Decimal
from io import BytesIO, StringIO
from typing import Any

import pytest
import time_machine
from django.core.management import call_command
from django.urls import reverse
from pypdf import PdfReader

from accounts.models import JournalEntry
from inspection.fieldapp.pack_places import places
from inspection.fieldwork.actions import record_thickness
from inspection.fieldwork.areas_next import areas_next
from inspection.fieldwork.judging import plan_of
from inspection.fieldwork.models import ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Asked, Conflict, NotAllowed, Refused
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.models import HoldPoint
from inspection.nonconformance import actions
from inspection.nonconformance.models import ExtentSpot, Nonconformance, RepairedPart
from inspection.nonconformance.queries import missing_of
from inspection.projects.breakdown import Change, retire_area, touched
from inspection.projects.models import InspectionArea
from inspection.projects.queries import project_rows
from inspection.projects.signals import coats_judged
from inspection.standing.models import Standing
from inspection.trace import bundle_content
from inspection.works.lots.progress import told_of
from reports.daily.gathering import gather
from reports.daily.pdf import draw
from reports.verify import repaired
from tests.cast import Cast
from tests.fieldwork.build import sent, spots
from tests.holdpoints.scene import a_point, reworked
from tests.past_triggers import rewrite
from tests.projects.test_pages import as_person, text_of
from tests.standing.scene import clock, verify

pytestmark = pytest.mark.django_db
GOOD, THIN = (80, 81, 82), (46, 47, 48)


@pytest.fixture(autouse=True)
def _days_later() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 3, 9, 12, 0, tzinfo=UTC), tick=False):
        yield


def measured(cast: Cast, at: str, *found: Any, area: InspectionArea | None = None, **more: Any) -> ThicknessRecord:
    """After the first coat, 60 to 120 µm by SSPC-PA 2, level 3."""
    given = sent(cast, readings=spots(*found), area=area or cast.site.area)
    times = {"first_reading_at": clock(at), "last_reading_at": clock(at[:3] + "40")}
    return record_thickness(cast.ines, **{**given, **times, "id": new_id(), **more})[0]


def searched(raised: Nonconformance, by: Any) -> None:
    """The search of its extent comes to its end at once in every direction."""
    for direction in range(1, 9):
        for _ in range(2):
            actions.add_spot(by, nonconformance=raised, id=new_id(), readings=["80", "81", "82"], direction=direction)


def failing(cast: Cast) -> Nonconformance:
    """One of the five spots of the 8 m² is too thin; the gauge was checked before and after the day's work."""
    verify(cast, "06:40")
    measured(cast, "09:00", GOOD, GOOD, THIN, GOOD, GOOD)
    verify(cast, "17:30")
    return Nonconformance.objects.select_related("project", "area", "coat").get()


def part_of(cast: Cast, raised: Nonconformance, **more: Any) -> RepairedPart:
    given = {"id": new_id(), "area_m2": Decimal("3.5"), "left_out": [3], "note": "chalked", "confirmed": True, **more}
    return actions.make_repaired_part(cast.ines, nonconformance=raised, **given)[0]


def state(thing: Any) -> str:
    thing.refresh_from_db()
    return str(thing.get_lies_display() if isinstance(thing, HoldPoint) else thing.state)


def agree() -> None:
    """`manage.py standing --check` finds nothing kept otherwise than the facts say."""
    call_command("standing", "--check", stdout=StringIO())


def test_the_area_stands_on_its_first_record_without_the_part_and_on_the_part(cast: Cast) -> None:
    area, coat = cast.site.area, cast.site.coats[0]
    point, elsewhere = a_point(cast), a_point(cast, area=cast.site.other_area)
    raised = failing(cast)
    searched(raised, cast.ines)
    made = part_of(cast, raised)
    assert (made.part.code, made.part.repair_of, made.part.area_m2) == ("A1 / repair 1", area, Decimal("3.50"))
    # Its plan is that of its own m²: one area of five spots of three readings on up to 10 m².
    assert (plan_of(coat, made.part).spots, plan_of(coat, made.part).readings) == (5, 15)
    rest = made.remainders.get()
    # 4 × (80 + 81 + 82) / 3 / 4 = 81 µm, at least the 60 µm specified.
    assert (rest.verdict, rest.result["areas"][0]["area_mean_um"], rest.result["complete"]) == ("pass", 81, True)
    record = ThicknessRecord.objects.get()
    assert (record.verdict, raised.record_id) == ("fail", record.pk)
    its_own = HoldPoint.objects.get(area=made.part)
    assert (its_own.coat, its_own.title) == (coat, point.title)
    assert [row.number for row in evidence_of(its_own).nonconformances] == [raised.number]
    assert (state(point), state(its_own), state(elsewhere)) == ("Not ready", "Not ready", "Not ready")
    assert evidence_of(elsewhere).nonconformances == ()
    assert not evidence_of(point).stands_with_part
    # The part is what is to be measured next, and not the area; the phone is told so too.
    (first,) = areas_next([cast.site.project.pk], area=area.pk)
    assert (first.area.pk, first.coat.pk, first.record) == (made.part_id, coat.pk, record.pk)
    assert first.why == "A1 failed, and stands once this repaired part passes and can be relied on"
    taken_along = {each["id"]: each for each in places(cast.ines, cast.site.project, clock("10:00"))["areas"]}
    assert (taken_along[area.pk]["repairs"], taken_along[area.pk].get("carried")) == (
        {str(coat.pk): made.part_id},
        None,
    )
    # Measured again with nothing done, a failure does not vanish.
    measured(cast, "10:00", *[GOOD] * 5, area=made.part)
    assert (state(raised), state(point)) == ("open", "Not ready")
    assert "No rework is recorded" in missing_of([raised])[raised.pk][0]
    reworked(cast, raised, "11:00")
    assert "Nothing has been measured on A1 / repair 1 since" in missing_of([raised])[raised.pk][0]
    # Three readings on the repair speak neither for it nor for the area.
    short = measured(cast, "12:00", GOOD, area=made.part)
    assert (short.verdict, state(raised), state(point)) == ("incomplete", "open", "Not ready")
    last = measured(cast, "14:00", *[GOOD] * 5, area=made.part)
    assert (state(raised), raised.closing_record_id) == ("closed", last.pk)
    assert (state(point), state(its_own)) == ("Ready", "Ready")
    evidence = evidence_of(point)
    assert (evidence.why_not, evidence.content["repaired"]["record"]["id"]) == ([], last.pk)
    assert evidence.stands_with_part
    assert not evidence_of(its_own).stands_with_part
    agree()
    record.refresh_from_db()
    assert record.verdict == "fail"
    # The area is told as inspected, and what is next there is the coat to come.
    (after,) = areas_next([cast.site.project.pk], area=area.pk)
    assert (after.coat.order, after.why) == (2, "Primer failed, and passed with its repaired part")
    assert (area.pk, coat.pk) in told_of(cast.site.project).inspected
    taken_along = {each["id"]: each for each in places(cast.ines, cast.site.project, clock("15:00"))["areas"]}
    assert (taken_along[area.pk]["carried"], taken_along[made.part.pk]["part_of"]) == ([coat.pk], area.pk)


def test_what_is_odd_is_asked_and_what_is_wrong_refused(cast: Cast) -> None:
    raised = failing(cast)
    with pytest.raises(Conflict, match="not known yet; measure on: Direction 1"):
        part_of(cast, raised)
    searched(raised, cast.ines)
    for given, words in (
        ({"area_m2": Decimal(0)}, "more than 0 m²"), ({"area_m2": Decimal("8.01")}, "A1 has 8.00 m²"),
        ({"left_out": []}, "at least one spot"), ({"left_out": [6]}, "no spot 6; the measurement has spots 1 to 5"),
        ({"left_out": [1, 2, 3, 4, 5]}, "nothing remains"),
    ):  # fmt: skip
        with pytest.raises(Refused, match=words):
            part_of(cast, raised, **given)
    for given, words in (
        ({"area_m2": Decimal("0.5")}, "0.5 m² only"), ({"area_m2": Decimal(7)}, "more than half"),
        ({"left_out": [4]}, "Every spot mean is at least 80 %"), ({"left_out": [1, 2, 3]}, "more readings wanted"),
    ):  # fmt: skip
        with pytest.raises(Asked, match=words):
            part_of(cast, raised, confirmed=False, **given)
    assert not InspectionArea.objects.filter(repair_of__isnull=False).exists()
    with pytest.raises(NotAllowed):
        actions.make_repaired_part(cast.clara, nonconformance=raised, id=new_id(), area_m2=Decimal(3), left_out=[3])
    made = part_of(cast, raised, confirmed=False)
    # Whoever retires the area is told of it, and the part itself is not taken out of use but by undoing it.
    told = touched(cast.quinn, [cast.site.area], Change.RETIRED)
    assert "A1 / repair 1 stays in use; it is undone on the page of its nonconformance." in told
    with pytest.raises(Conflict, match="is a repaired part of A1"):
        retire_area(cast.quinn, area=made.part, reason="gone")
    # A revision of the system leaves the part with the coat that was found.
    asked = coats_judged.send(sender=None, coats=[cast.site.coats[0].pk], areas=None, since=None)
    assert (made.part_id, cast.site.coats[0].pk) in {place for _, found in asked for place in found.judged}
    again = {"nonconformance": raised, "id": made.pk, "area_m2": Decimal("3.5"), "left_out": [3], "note": "chalked"}
    assert actions.make_repaired_part(cast.ines, **again) == (made, False)
    with pytest.raises(Conflict, match="used already"):
        actions.make_repaired_part(cast.ines, **{**again, "left_out": [2]})
    with pytest.raises(Conflict, match="is made already"):
        part_of(cast, raised)
    with pytest.raises(Conflict, match="undo that part first"):
        actions.take_spot_back(cast.ines, spot=ExtentSpot.objects.latest("number"), reason="slip")


def test_a_part_is_undone_with_its_reason_and_what_stood_on_it_falls_into_doubt(cast: Cast) -> None:
    point, raised = a_point(cast), failing(cast)
    searched(raised, cast.ines)
    made = part_of(cast, raised)
    reworked(cast, raised, "11:00")
    measured(cast, "14:00", *[GOOD] * 5, area=made.part)
    HoldPoint.objects.filter(pk=point.pk).update(state="released")
    with pytest.raises(Refused, match="Say why"):
        actions.undo_part(cast.ines, repaired=made, reason=" ")
    with pytest.raises(Asked, match="1 record was taken on A1 / repair 1; it stays"):
        actions.undo_part(cast.ines, repaired=made, reason="the wrong plate")
    actions.undo_part(cast.ines, repaired=made, reason="the wrong plate", confirmed=True)
    assert (state(raised), state(point), point.doubted_at is not None) == ("open", "In doubt", True)
    made.part.refresh_from_db()
    assert (made.part.retired_at is not None, HoldPoint.objects.get(area=made.part).state) == (True, "closed")
    with pytest.raises(Conflict, match="undone already"):
        actions.undo_part(cast.ines, repaired=made, reason="twice")
    verbs = set(JournalEntry.objects.filter(object_id=str(raised.pk)).values_list("verb", flat=True))
    assert {"nonconformance.part_made", "nonconformance.part_undone"} <= verbs
    # Made anew it has the next number; nothing of the one undone speaks for it.
    assert part_of(cast, raised).part.code == "A1 / repair 2"
    assert state(raised) == "open"
    agree()


def test_a_correction_of_the_failing_record_judges_the_rest_anew_whatever_came_first(cast: Cast) -> None:
    point, raised = a_point(cast), failing(cast)
    searched(raised, cast.ines)
    made = part_of(cast, raised)
    reworked(cast, raised, "11:00")
    measured(cast, "14:00", *[GOOD] * 5, area=made.part)
    first = ThicknessRecord.objects.get(area=cast.site.area)
    # Spot 1 was typed wrong; without the part the rest fails by it: 47 µm is below 80 % of 60 µm.
    correction = {"replaces": first, "replacement_reason": "a typing slip"}
    second = measured(cast, "09:00", (47, 47, 47), GOOD, THIN, GOOD, GOOD, **correction)
    assert [rest.verdict for rest in made.remainders.all()] == ["pass", "fail"]
    assert (state(raised), state(point)) == ("open", "Not ready")
    assert "measure the whole area" in missing_of([raised])[raised.pk][0]
    (whole,) = areas_next([cast.site.project.pk], area=cast.site.area.pk)
    assert (whole.area, whole.why) == (cast.site.area, "failed: repair and measure again")
    agree()
    measured(cast, "09:00", (75, 75, 75), GOOD, THIN, GOOD, GOOD, replaces=second, replacement_reason="the slip again")
    assert (state(raised), state(point)) == ("closed", "Ready")
    # A part that fails is found not to conform itself, and holds the area back.
    measured(cast, "15:00", GOOD, THIN, GOOD, GOOD, GOOD, area=made.part)
    assert (Nonconformance.objects.filter(area=made.part).count(), state(point)) == (1, "Not ready")
    agree()


def test_pages_and_papers_name_record_nonconformance_extent_and_part_both_ways(cast: Cast) -> None:
    raised, client = failing(cast), as_person(cast.ines)
    searched(raised, cast.ines)
    page = reverse("nonconformance_repaired_part", args=[raised.pk])
    assert page in client.get(reverse("nonconformance", args=[raised.pk])).content.decode()
    shown = client.get(page).content.decode()
    # The spot that alone does not conform is named already.
    assert 'name="left_out" value="3"' in shown
    sent = {"id": new_id(), "area_m2": "0,5", "left_out": "3", "note": "chalk line"}
    assert "0.5 m² only. Is this what was marked out?" in text_of(client.post(page, sent))
    assert "no number of a spot" in text_of(client.post(page, sent | {"left_out": "three"}))
    assert client.post(page, sent | {"confirmed": "0,5 3"}).status_code == 302
    made = RepairedPart.objects.get()
    measured(cast, "14:00", *[GOOD] * 5, area=made.part)
    record = ThicknessRecord.objects.get(area=cast.site.area)
    its_own = reverse("repaired_part", args=[made.pk])
    of_part = ThicknessRecord.objects.get(area=made.part)
    for address in (
        reverse("nonconformance", args=[raised.pk]), reverse("nonconformance_extent", args=[raised.pk]),
        reverse("thickness", args=[record.pk]), reverse("thickness", args=[of_part.pk]),
        reverse("area", args=[cast.site.area.pk]), reverse("area", args=[made.part.pk]),
    ):  # fmt: skip
        assert its_own in client.get(address).content.decode(), address
    told = text_of(client.get(its_own))
    for words in ("5 spots of 3 readings on 0.50 m²", "without spot 3", "chalk line", str(raised), "81 µm"):
        assert words in told, words
    assert "The area stands on them while their measurements are sound" in told
    Standing.objects.filter(record=of_part).update(state=Standing.State.IN_QUESTION)
    in_question = text_of(client.get(its_own))
    assert "not stand on them yet" in in_question
    assert f'{of_part.pk}/">the measurement of 2026-03-04 14:00</a> cannot be relied on as it is' in in_question
    at_area = text_of(client.get(reverse("area", args=[cast.site.area.pk])))
    assert "In question" in at_area
    # A day's report tells the extent with its drawing, and the part.
    day = gather(cast.site.project, date(2026, 3, 9))
    (row,) = day.nonconformances
    assert row.reaches is not None
    assert (row.reaches.finished, len(row.reaches.spots), row.repaired[0].rest) == (True, 16, "Pass")
    paper = " ".join(page.extract_text() for page in PdfReader(BytesIO(draw(day))).pages)
    for words in ("How far they reach", "A1 / repair 1, 0.5 m²", "16 spots measured outward", "extent",
                  "The rest of the area, without A1 / repair 1"):  # fmt: skip
        assert words in " ".join(paper.split()), words
    assert "repaired_parts" in bundle_content.nonconformance(
        bundle_content.whole_nonconformances(Nonconformance.objects.filter(pk=raised.pk)).get()
    )
    # Its m² lie within the area's: they are counted once.
    assert project_rows(cast.ines).get(pk=cast.site.project.pk).area_m2 == 68
    back = reverse("repaired_part_undo", args=[made.pk])
    assert "1 record was taken" in text_of(client.post(back, {"reason": "the wrong plate"}))
    assert client.post(back, {"reason": "the wrong plate", "confirmed": "yes"}).status_code == 302
    assert "the wrong plate" in text_of(client.get(its_own))
    assert as_person(cast.carl).get(its_own).status_code == 404


def test_the_api_makes_a_part_once_tells_of_it_and_undoes_it(cast: Cast) -> None:
    raised, client = failing(cast), as_person(cast.ines)
    searched(raised, cast.ines)
    address = f"/api/nonconformances/{raised.pk}/repaired-part/"
    assert client.get(address).status_code == 404
    sent = {"id": str(new_id()), "area_m2": "0.5", "left_out": [3]}
    answer = client.post(address, sent, "application/json")
    assert (answer.status_code, answer.json()["errors"][0]["field"]) == (428, "area_m2")
    sent |= {"confirmed": True}
    assert [client.post(address, sent, "application/json").status_code for _ in range(2)] == [201, 200]
    told = client.get(address).json()
    assert (told["area_label"], told["wanted"], told["record"]) == ("A1 / repair 1", "5 spots of 3 readings", None)
    assert (told["remainders"][0]["verdict"], told["both_pass"]) == ("pass", False)
    back = f"/api/repaired-parts/{sent['id']}/undo/"
    assert client.post(back, {"reason": "slip"}, "application/json").json()["undone_why"] == "slip"
    assert client.post(back, {"reason": "slip"}, "application/json").status_code == 409


def test_verify_computes_the_rest_again_and_names_what_was_changed(cast: Cast) -> None:
    raised = failing(cast)
    searched(raised, cast.ines)
    made = part_of(cast, raised)
    assert list(repaired.differences()) == []
    rewrite(RepairedPart.objects.filter(pk=made.pk), left_out=[2], confirmed=["odd"], part=cast.site.other_area)
    told = " ".join(repaired.differences())
    for words in (
        "what it was made of does not match its digest",
        "its verdict is pass, the readings that remain give fail",
        "what was asked about it and meant so is not what the journal tells",
        "it is another area than the journal tells",
    ):
        assert words in told, words
