"""Revisions of coating systems: what is unfinished moves from a day on, what was judged keeps its own."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

import pytest
from django.utils import timezone

from accounts.models import JournalEntry
from inspection.fieldwork.actions import record_thickness
from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.todays_work import today
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, Refused
from inspection.holdpoints.models import HoldPoint, Requirement
from inspection.projects.breakdown import retire_area
from inspection.projects.models import CoatingSystem, InspectionArea, StripeCoat
from inspection.projects.revised_areas import apply_due, take_back
from inspection.projects.revisions import RevisedCoat, SystemSpec, as_it_is, issue_revision
from inspection.projects.steps import film_on, steps_of
from tests.cast import DAY, MORNING, Cast
from tests.fieldwork.build import sent, singles
from tests.holdpoints.scene import a_point

NEXT_DAY = DAY + timedelta(days=1)
LATER = MORNING + timedelta(days=2)


def thicker(system: CoatingSystem, order: int = 2, nominal_nm: int = 150_000) -> list[RevisedCoat]:
    """The coats of a system as they are, but one with another nominal thickness."""
    return [
        RevisedCoat(replace(each.spec, nominal_nm=nominal_nm), each.carries_on) if each.spec.order == order else each
        for each in as_it_is(system)
    ]


def issue(cast: Cast, applies_from: date = NEXT_DAY, system: CoatingSystem | None = None, **more: Any) -> CoatingSystem:
    system = system or cast.site.system
    asked: dict[str, Any] = {
        "id": new_id(), "system": system, "applies_from": applies_from, "reason": "Thicker, as agreed",
        "coats": thicker(system), "of_system": SystemSpec.of(system),
    }  # fmt: skip
    return issue_revision(cast.quinn, **asked | more)[0]


def record(cast: Cast, coat: Any, at: datetime = MORNING, **more: Any) -> ThicknessRecord:
    given = sent(cast, first_reading_at=at, last_reading_at=at + timedelta(hours=1), **more) | {"coat": coat}
    return record_thickness(cast.ines, **given)[0]


def now(area: InspectionArea) -> InspectionArea:
    return InspectionArea.objects.select_related("system").get(pk=area.pk)


def told(area: InspectionArea) -> list[tuple[str, int]]:
    """The steps of an area, each with the number of the revision it is under."""
    return [(coat.name, coat.system.number) for coat in steps_of(now(area))]


def test_what_was_judged_keeps_its_revision_and_the_rest_moves(cast: Cast) -> None:
    site, (primer, between, _) = cast.site, cast.site.coats
    judged = record(cast, primer)
    stays, moves, other = a_point(cast, coat=0), a_point(cast, coat=1), a_point(cast, coat=1, area=site.other_area)
    Requirement.objects.create(point=moves, kind="climate", coat=between)
    StripeCoat.objects.create(coat=between, name="Stripe", product="Paint")
    revision = issue(cast)
    new = {coat.order: coat for coat in revision.coats.all()}
    assert told(site.area) == [("Primer", 0), ("Intermediate", 1), ("Finish", 1)]
    assert told(site.other_area) == [("Primer", 1), ("Intermediate", 1), ("Finish", 1)]
    for point, coat in ((stays, primer), (moves, new[2]), (other, new[2])):
        point.refresh_from_db()
        assert (point.coat, point.state) == (coat, "waiting")
    assert Requirement.objects.get(point=moves).coat == new[2]
    assert StripeCoat.objects.get(coat=new[2]).name == "Stripe"
    assert ThicknessRecord.objects.get(pk=judged.pk).coat == primer
    of_project = today(cast.ines, LATER)[0]
    shown = {area.area.code: (area.coat, area.why) for area in (*of_project.next, *of_project.held)}
    assert shown == {"A1": (new[2], "Primer passed"), "A2": (new[1], "not measured yet")}
    entry = JournalEntry.objects.get(verb="system.revision_applied")
    assert entry.after["kept"] == {"A1": ["1. Primer"]}
    assert JournalEntry.objects.get(verb="holdpoint.coats_moved").reason.endswith("Thicker, as agreed")


def test_a_coat_is_held_to_the_sum_of_what_lies_on_the_steel_each_as_it_was_specified(cast: Cast) -> None:
    primer, between, _ = cast.site.coats
    record(cast, primer)
    coats = [
        RevisedCoat(replace(each.spec, nominal_nm=each.spec.nominal_nm + 25_000), each.carries_on)  # type: ignore[operator]  # all have one
        for each in as_it_is(cast.site.system)
    ]
    revision = issue(cast, coats=coats)
    # Sent by a phone that knows the former revision only.
    found = record(cast, between, LATER, readings=singles(*[230] * 15))
    assert found.coat == revision.coats.get(order=2)
    # 75 of the primer as it was, and 125 + 25 of the intermediate as it is now; by revision 1 alone it would be 250.
    assert found.inputs["nominal_um"] == 225
    assert found.inputs["nominal_um"] == film_on(now(cast.site.area), found.coat).through.nominal / 1000  # type: ignore[operator]  # it has one


def test_what_arrives_late_is_judged_by_the_revision_in_force_when_it_was_taken(cast: Cast) -> None:
    primer, between, _ = cast.site.coats
    record(cast, primer)
    point = a_point(cast, coat=1)
    new = issue(cast).coats.get(order=2)
    given = sent(cast, coat=2, readings=singles(*[210] * 15)) | {"coat": new}
    late, _ = record_thickness(cast.ines, **given)
    assert (late.coat, late.inputs["nominal_um"]) == (between, 200)
    assert told(cast.site.area) == [("Primer", 0), ("Intermediate", 0), ("Finish", 1)]
    point.refresh_from_db()
    assert point.coat == between
    assert record_thickness(cast.ines, **given) == (late, False)
    # What was judged is measured again under its own.
    assert record(cast, new, LATER, readings=singles(*[210] * 15)).coat == between
    # A correction of it too, even where the new coat is named.
    again = record(cast, new, MORNING, readings=singles(*[212] * 15), replaces=late, replacement_reason="A slip")
    assert again.coat == between


def test_a_measurement_without_a_verdict_does_not_keep_its_coat_unless_that_is_asked(cast: Cast) -> None:
    short = record(cast, cast.site.coats[0], readings=sent(cast)["readings"][:3])
    assert short.verdict == "incomplete"
    first = issue(cast)
    assert told(cast.site.area)[0] == ("Primer", 1)
    take_back(cast.quinn, system=first, reason="Begun coats stay")
    issue(cast, begun_stay=True)
    assert told(cast.site.area)[0] == ("Primer", 0)
    assert told(cast.site.other_area)[0] == ("Primer", 2)


def test_a_revision_is_taken_back_while_nothing_rests_on_it(cast: Cast) -> None:
    site, point = cast.site, a_point(cast, coat=1)
    revision = issue(cast)
    take_back(cast.quinn, system=revision, reason="Wrong table")
    assert told(site.area) == [("Primer", 0), ("Intermediate", 0), ("Finish", 0)]
    point.refresh_from_db()
    assert (point.coat, now(site.area).former_systems.count()) == (site.coats[1], 0)
    assert JournalEntry.objects.get(verb="system.revision_taken_back").reason == "Wrong table"
    with pytest.raises(Conflict, match="was taken back on"):
        take_back(cast.quinn, system=revision, reason="Again")
    second = issue(cast)
    assert second.number == 2
    record(cast, second.coats.get(order=1), LATER)
    with pytest.raises(Conflict, match="On A1 something was recorded or decided under System 1, revision 2"):
        take_back(cast.quinn, system=second, reason="Too late")


def test_a_revision_of_a_day_to_come_waits_for_it(cast: Cast) -> None:
    site = cast.site
    day = site.project.day_of(timezone.now()) + timedelta(days=3)
    revision = issue(cast, day)
    assert (now(site.area).system, revision.applied_at) == (site.system, None)
    start, _ = site.project.day_bounds(day)
    apply_due(start - timedelta(minutes=1))
    assert now(site.area).system == site.system
    apply_due(start)
    apply_due(start)
    assert now(site.area).system == revision
    assert JournalEntry.objects.filter(verb="system.revision_applied").count() == 1


def test_the_same_sent_again_is_one_revision_and_a_second_one_is_told_of_the_first(cast: Cast) -> None:
    one = new_id()
    first = issue(cast, id=one)
    assert issue(cast, id=one) == first
    with pytest.raises(Conflict, match="with other content"):
        issue(cast, id=one, reason="Otherwise")
    with pytest.raises(Conflict, match="System 1, revision 1 follows System 1 already"):
        issue(cast)
    assert CoatingSystem.objects.filter(project=cast.site.project).count() == 2


def with_carrying(cast: Cast, *orders: int | None) -> list[RevisedCoat]:
    return [RevisedCoat(each.spec, order) for each, order in zip(as_it_is(cast.site.system), orders, strict=True)]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (lambda cast: {"coats": as_it_is(cast.site.system)}, "Nothing differs from System 1"),
        (lambda cast: {"coats": []}, "Give at least one coat"),
        (lambda cast: {"applies_from": date(2206, 3, 3)}, "2206-03-03 is far from today; check the year"),
        (lambda cast: {"reason": " "}, "reason"),
        (lambda cast: {"coats": with_carrying(cast, 1, 7, None)}, "System 1 has no coat 7"),
        (lambda cast: {"coats": with_carrying(cast, 2, 1, 3)}, "Each coat is carried on once"),
        (lambda cast: {"coats": thicker(cast.site.system, nominal_nm=900_000)}, "The maximum is at least the nominal"),
    ],
)
def test_what_cannot_be_is_told_and_nothing_is_stored(cast: Cast, changes: Any, words: str) -> None:
    with pytest.raises(Refused) as refused:
        issue(cast, **changes(cast))
    told = " ".join(f"{fault.field} {fault.message}" for fault in refused.value.faults)
    assert words in told
    assert CoatingSystem.objects.filter(project=cast.site.project).count() == 1


def test_a_new_step_and_one_left_out_are_asked_for_and_not_asked_for(cast: Cast) -> None:
    site, coats = cast.site, as_it_is(cast.site.system)
    dropped, kept_point = a_point(cast, coat=1), a_point(cast, coat=2)
    tie = RevisedCoat(replace(coats[1].spec, name="Tie coat"), None)
    last = RevisedCoat(coats[2].spec, 3)
    revision = issue(cast, coats=[coats[0], tie, last])
    assert told(site.area) == [("Primer", 1), ("Tie coat", 1), ("Finish", 1)]
    states = dict(HoldPoint.objects.values_list("pk", "state"))
    assert (states[dropped.pk], states[kept_point.pk]) == ("closed", "waiting")
    third = issue(cast, NEXT_DAY, revision, coats=thicker(revision, 3, 60_000))
    assert told(site.area) == [("Primer", 2), ("Tie coat", 2), ("Finish", 2)]
    assert third.number == 2


def test_a_retired_area_moves_too_and_its_points_wait_after_the_new_coats_when_it_comes_back(cast: Cast) -> None:
    site, point = cast.site, a_point(cast, coat=1)
    retire_area(cast.quinn, area=site.area, reason="Not built")
    revision = issue(cast)
    point.refresh_from_db()
    assert (point.coat, point.state) == (revision.coats.get(order=2), "closed")


def test_two_thousand_areas_move_in_as_many_statements_as_two(cast: Cast, django_assert_max_num_queries: Any) -> None:
    site = cast.site
    InspectionArea.objects.bulk_create(
        InspectionArea(structure=site.structure, system=site.system, code=f"B{n}", name="Plate", area_m2=5)
        for n in range(2_000)
    )
    added = InspectionArea.objects.filter(code__startswith="B")
    HoldPoint.objects.bulk_create(
        HoldPoint(project=site.project, area=area, coat=site.coats[1], title="Accepted") for area in added
    )
    record(cast, site.coats[0])
    with django_assert_max_num_queries(120):
        revision = issue(cast)
    assert InspectionArea.objects.filter(system=revision).count() == 2_002
    assert HoldPoint.objects.filter(coat=revision.coats.get(order=2)).count() == 2_000
    assert isinstance(revision.pk, UUID)
