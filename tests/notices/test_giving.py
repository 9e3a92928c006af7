"""Giving notice of an inspection: in time or short, of places that can be inspected, once, and by whom."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.management import call_command
from django.http import Http404
from django.urls import reverse
from django.utils import timezone

from accounts.models import JournalEntry
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Asked, Conflict, NotAllowed, Refused
from inspection.holdpoints.actions.planning import remove_point
from inspection.holdpoints.models import HoldPoint, PointLetter
from inspection.notices import actions
from inspection.notices.models import Notice
from inspection.notices.queries import decided_at
from inspection.plan.models import ClosedDay, WorkingCalendar
from inspection.projects.models import InspectionArea, Scope
from tests.cast import MORNING, Cast
from tests.holdpoints.planned import a_line, an_owner, plan_of
from tests.holdpoints.scene import a_point
from tests.notices.scene import FRIDAY, HOUR, a_painter, asked, give, lies, planned, sent
from tests.past_triggers import rewrite
from tests.projects.test_pages import as_person

pytestmark = pytest.mark.django_db


def refused(cast: Cast, line: Any, **more: Any) -> list[tuple[str, str]]:
    """What is said against a notice, by field; nothing of it is kept."""
    with pytest.raises(Refused) as told:
        give(cast, line, **more)
    assert not Notice.objects.exists()
    assert set(lies(cast)) <= {"Not ready", "Released", "Refused", "Waived", "Not applicable"}
    return [(fault.field, fault.message) for fault in told.value.faults]


def test_a_notice_is_kept_with_what_it_is_of_and_its_cells_say_so(cast: Cast) -> None:
    line = planned(cast)
    notice = give(cast, line, told_m2=Decimal("60.5"), note="Bring lamps")
    assert (str(notice), notice.state, notice.area_m2, notice.told_m2) == (
        "Notice N-001",
        "standing",
        68,
        Decimal("60.5"),
    )
    assert [str(row.party) for row in notice.parties.all()] == ["Owner One (client)"]
    assert [(place.area.code, place.title) for place in notice.places.order_by("area__code")] == [
        ("A1", "Line 1"), ("A2", "Line 1"),
    ]  # fmt: skip
    assert lies(cast) == ["Notified", "Notified"]
    entry = JournalEntry.objects.get(verb="notice.given")
    assert (entry.actor, entry.after["areas"], entry.after["points"]) == (cast.ines, ["A1", "A2"], 2)
    matrix = as_person(cast.clara).get(reverse("points_matrix", args=[cast.site.project.pk]) + "?state=notified")
    assert "Notified" in matrix.content.decode()
    assert [row.area.code for row in matrix.context["rows"]] == ["A1", "A2"]
    not_ready = as_person(cast.clara).get(reverse("points_matrix", args=[cast.site.project.pk]) + "?state=unready")
    assert not not_ready.context["rows"]
    assert "Notified (2)" in as_person(cast.clara).get(reverse("board")).content.decode()
    call_command("standing", "--check")


def test_what_points_keep_of_notices_is_compared_with_those_and_put_right(cast: Cast, capsys: Any) -> None:
    give(cast, planned(cast))
    rewrite(HoldPoint.objects.filter(area=cast.site.area), notified_for=None, lies=HoldPoint.Lies.UNREADY)
    with pytest.raises(SystemExit):
        call_command("standing", "--check")
    assert "kept as notified for None" in capsys.readouterr().out
    call_command("standing")
    assert lies(cast) == ["Notified", "Notified"]
    call_command("standing", "--check")


# Lead times are common practice, no source: 24 h in a yard, 48 to 72 h for outside parties. One city's specification
# asks for 48 h before any inspection, one water utility for two working days (both stored sources). The calendar has
# Monday to Friday, 07:00 to 17:00; what is expected is its arithmetic.
@pytest.mark.parametrize(
    ("lead", "unit", "given", "short", "due"),
    [
        # Wednesday 07:00 to Friday 10:00 are 10 + 10 + 3 hours.
        (23, "hours", MORNING, None, None),
        (24, "hours", MORNING, 1, datetime(2026, 3, 3, 16, 0, tzinfo=UTC)),
        # Thursday 12:00 to Friday 10:00 are 5 + 3 hours; the 43 since Monday and 5 of the Friday before are 48.
        (48, "hours", MORNING + timedelta(hours=29), 40, datetime(2026, 2, 27, 12, 0, tzinfo=UTC)),
        # Two working days before Friday 10:00 is Wednesday 10:00.
        (2, "days", MORNING, None, None),
        (2, "days", MORNING + timedelta(hours=5), 2, datetime(2026, 3, 4, 10, 0, tzinfo=UTC)),
    ],
)
def test_a_short_notice_is_asked_about_with_its_hours_and_then_kept_as_short(
    cast: Cast, lead: int, unit: str, given: datetime, short: int | None, due: datetime | None
) -> None:
    line = planned(cast)
    WorkingCalendar.objects.create(project=cast.site.project, weekdays="12345", begins="07:00", ends="17:00")
    asked(cast, lead, unit)
    if short is None:
        assert give(cast, line, at=given).short_hours is None
        return
    with pytest.raises(Asked) as question:
        give(cast, line, at=given)
    words = question.value.faults[0].message
    assert f"{short} working hour{'s' if short > 1 else ''} of the {lead} working {unit} asked for" in words
    assert f"in time until {due:%A %Y-%m-%d %H:%M}" in words
    assert not Notice.objects.exists()
    notice = give(cast, line, at=given, confirmed=True)
    assert (notice.short_hours, notice.due_by) == (short, due)
    page = as_person(cast.clara).get(reverse("notice", args=[notice.pk])).content.decode()
    assert f"Short notice: by {short} working hour" in page


def test_a_line_may_ask_for_more_than_the_project_and_a_closed_day_does_not_count(cast: Cast) -> None:
    line = planned(cast)
    asked(cast, 24)
    ClosedDay.objects.create(project=cast.site.project, day=FRIDAY.date() - timedelta(days=1), why="Launch")
    # Without declared hours the whole of a working day counts: 17 h of Wednesday and 10 of Friday.
    assert give(cast, line).short_hours is None
    rewrite(type(line).objects.all(), lead=28, lead_unit="hours")
    assert give(cast, line, confirmed=True).short_hours == 1


def test_a_time_that_is_past_or_makes_no_sense_is_refused_with_its_sentence(cast: Cast) -> None:
    line = planned(cast)
    ((field, words),) = refused(cast, line, begins_at=MORNING - HOUR)
    assert field == "begins_at"
    assert "2026-03-04 06:00 lies in the past" in words
    assert refused(cast, line, ends_at=FRIDAY - HOUR) == [("ends_at", "It ends before it begins; give a later end.")]
    assert "check the year" in refused(cast, line, begins_at=FRIDAY.replace(year=2036))[0][1]
    assert "14 days" in refused(cast, line, ends_at=FRIDAY + timedelta(days=20))[0][1]
    assert refused(cast, line, begins_at=FRIDAY.replace(tzinfo=None))[0][0] == "begins_at"
    assert refused(cast, line, meeting_place=" ") == [("meeting_place", "Fill this in.")]


def test_what_cannot_be_inspected_is_refused_naming_the_field_and_the_row(cast: Cast) -> None:
    line = planned(cast)
    ((field, words),) = refused(cast, line, told_m2=Decimal(69))
    assert (field, "69 m² is more than the areas have together, which is 68 m²" in words) == ("told_m2", True)
    assert refused(cast, line, told_m2=Decimal(0))[0][0] == "told_m2"
    assert refused(cast, line, areas=[])[0][0] == "areas"
    assert refused(cast, line, lines=[])[0][0] == "lines"
    with pytest.raises(Http404):
        give(cast, line, areas=[cast.foreign.area])
    foreign = [cast.site.area, cast.foreign.area]
    assert "another project" in refused(cast, line, by=cast.quinn, areas=foreign)[0][1]
    superseded = a_line(plan_of(cast, 2, "superseded"), "9")
    assert "not in force" in refused(cast, line, lines=[superseded])[0][1]
    rewrite(HoldPoint.objects.filter(area=cast.site.area), state="released", lies=HoldPoint.Lies.RELEASED)
    only = [cast.site.area]
    assert "Line 1, A1 is released already; leave it out." in refused(cast, line, areas=only)[0][1]
    rewrite(HoldPoint.objects.filter(area=cast.site.area), state="refused", lies=HoldPoint.Lies.REFUSED)
    assert "present it again first" in refused(cast, line, areas=only)[0][1]
    InspectionArea.objects.filter(pk=cast.site.other_area.pk).update(retired_at=MORNING, retired_why="Cut out")
    retired = InspectionArea.objects.get(pk=cast.site.other_area.pk)
    assert "A2 was retired" in refused(cast, line, areas=[retired])[0][1]
    stranger = cast.foreign.project.parties.get(kind="client")
    rewrite(HoldPoint.objects.filter(area=cast.site.area), state="waiting", lies=HoldPoint.Lies.UNREADY)
    wrong = refused(cast, line, areas=[cast.site.area], parties=[stranger])
    ((field, words),) = wrong
    assert field == "parties"
    assert words.endswith("neither holds nor witnesses any of these points; choose among Owner One (client).")


def test_of_several_areas_what_is_decided_already_is_left_out_and_told(cast: Cast) -> None:
    line = planned(cast)
    rewrite(HoldPoint.objects.filter(area=cast.site.area), state="waived", lies=HoldPoint.Lies.WAIVED)
    assert [each.area.code for each in give(cast, line).places.all()] == ["A2"]
    there = [cast.site.area, cast.site.other_area]
    assert [str(each) for each in decided_at([line], there)] == ["Line 1: 1 area (A1)"]


def test_the_same_sent_again_is_one_notice_and_other_content_under_its_id_is_refused(cast: Cast) -> None:
    line, own = planned(cast), new_id()
    common = {"id": own, "project": cast.site.project, "at": MORNING}
    first, new = actions.give_notice(cast.ines, sent=sent(cast, line), **common)
    again, newer = actions.give_notice(cast.ines, sent=sent(cast, line), **common)
    assert (first.pk, new, again.pk, newer) == (own, True, own, False)
    with pytest.raises(Conflict, match="other content"):
        actions.give_notice(cast.ines, sent=sent(cast, line, note="Other"), **common)
    assert Notice.objects.count() == 1


def test_points_planned_by_hand_are_notified_to_the_clients(cast: Cast) -> None:
    point = a_point(cast)
    notice = give(cast, None, lines=(), areas=(), points=[point])
    assert [str(row.party) for row in notice.parties.all()] == ["Owner One (client)"]
    assert lies(cast) == ["Notified"]


def test_each_party_is_told_of_what_it_holds_or_witnesses_and_of_nothing_else(cast: Cast) -> None:
    an_owner(cast)
    line = planned(cast, client="hold", owner="witness", inspection="monitor")
    names = {str(row.party) for row in give(cast, line).parties.all()}
    assert names == {"Owner One (client)", "Far Shipping (owner)"}
    # Another letter at one point counts there.
    for point in HoldPoint.objects.filter(area=cast.site.area):
        PointLetter.objects.create(
            point=point, party_kind="owner", letter="M", meaning="monitor", reason="Far", given_by=cast.quinn
        )
    there = give(cast, line, areas=[cast.site.area])
    assert [str(row.party) for row in there.parties.all()] == ["Owner One (client)"]


def test_a_contractors_person_gives_notice_of_their_own_areas_and_sees_no_others(cast: Cast) -> None:
    line, painter = planned(cast), a_painter(cast)
    other = a_painter(cast, "Otto Other")
    cast.site.project.refresh_from_db()
    party = cast.site.project.parties.get(organisation=painter.organisation)
    Scope.objects.create(party=party, area=cast.site.area)
    notice = give(cast, line, by=painter, areas=[cast.site.area])
    assert notice.party.organisation == painter.organisation
    with pytest.raises(Http404):
        give(cast, line, by=painter)
    whole = give(cast, line)
    mine = as_person(painter)
    assert mine.get(reverse("notice", args=[notice.pk])).status_code == 200
    assert mine.get(reverse("notice", args=[whole.pk])).status_code == 404
    assert as_person(other).get(reverse("notice", args=[notice.pk])).status_code == 404
    form = mine.get(reverse("notice_new", args=[cast.site.project.pk])).content.decode()
    assert "A1 Hatch" in form
    assert "A2 Shell" not in form
    assert "1 area with a point that waits" in form
    assert other.organisation.name not in form
    for somebody in (cast.clara, cast.audrey):
        with pytest.raises(NotAllowed):
            give(cast, line, by=somebody)
    assert as_person(cast.igor).get(reverse("notice", args=[whole.pk])).status_code == 404


def test_a_point_that_was_notified_can_still_be_taken_away_and_its_place_stays_in_the_notice(cast: Cast) -> None:
    notice = give(cast, planned(cast))
    remove_point(cast.quinn, point=HoldPoint.objects.get(area=cast.site.area), reason="Planned twice")
    assert notice.places.get(area=cast.site.area).point is None
    page = as_person(cast.clara).get(reverse("notice", args=[notice.pk])).content.decode()
    assert "no longer planned" in page
    call_command("standing", "--check")


def ahead(hours: int) -> str:
    return f"{timezone.now() + timedelta(hours=hours):%Y-%m-%dT%H:%M}"


def test_the_page_gives_notice_of_what_it_is_narrowed_to_and_asks_before_a_short_one_is_stored(cast: Cast) -> None:
    line, client = planned(cast), as_person(cast.ines)
    WorkingCalendar.objects.create(project=cast.site.project, weekdays="1234567")
    asked(cast, 48)
    address = reverse("notice_new", args=[cast.site.project.pk])
    shown = client.get(f"{address}?words=Shell&activity=thickness&state=unready")
    assert [area.code for area in shown.context["offered"]] == ["A2"]
    form = {
        "id": str(new_id()), "lines": [str(line.pk)], "every": "on", "begins_at": ahead(10), "ends_at": ahead(11),
        "meeting_place": "Gate", "told_m2": "60,00",
    }  # fmt: skip
    question = client.post(f"{address}?words=Shell", form)
    assert question.status_code == 422
    assert "working hours of the 48 working hours asked for are missing" in question.content.decode()
    assert not Notice.objects.exists()
    # Another time is another question.
    other = {**form, "begins_at": ahead(9), "confirmed": question.context["confirmed"]}
    assert client.post(f"{address}?words=Shell", other).status_code == 422
    done = client.post(f"{address}?words=Shell", {**form, "confirmed": question.context["confirmed"]}, follow=True)
    assert "Notice N-001 is given; those concerned are told." in done.content.decode()
    again = client.post(f"{address}?words=Shell", {**form, "confirmed": question.context["confirmed"]})
    assert again["Location"] == reverse("notice", args=[Notice.objects.get().pk])
    assert [place.area.code for place in Notice.objects.get().places.all()] == ["A2"]
    wrong = client.post(address, {**form, "id": str(new_id()), "every": "", "begins_at": "tomorrow"})
    told = wrong.content.decode()
    assert wrong.status_code == 422
    assert "“tomorrow” is not a date and time" in told
    assert "Choose at least one area" in told


def test_the_api_gives_notice_answers_a_resend_and_names_what_is_wrong(cast: Cast) -> None:
    line, client = planned(cast), as_person(cast.ines)
    WorkingCalendar.objects.create(project=cast.site.project, weekdays="1234567")
    asked(cast, 48)
    begin = timezone.now() + timedelta(hours=30)
    body = {
        "id": str(new_id()), "lines": [str(line.pk)], "areas": [str(cast.site.area.pk)], "begins_at": begin.isoformat(),
        "ends_at": (begin + HOUR).isoformat(), "meeting_place": "Gate", "told_m2": 7.5,
    }  # fmt: skip
    address = reverse("api_notice_give", args=[cast.site.project.pk])

    def post(**more: Any) -> Any:
        return client.post(address, {**body, **more}, content_type="application/json")

    question = post()
    assert (question.status_code, question.json()["errors"][0]["field"]) == (428, "begins_at")
    made = post(confirmed=True)
    assert made.status_code == 201
    told = made.json()
    assert (told["number"], told["state"], told["area_m2"], told["told_m2"]) == ("N-001", "standing", 8, 7.5)
    assert 18 <= told["short_hours"] <= 18.02
    assert told["what"] == [{"title": "Line 1", "areas": 1}]
    assert [place["area_code"] for place in told["places"]] == ["A1"]
    assert post(confirmed=True).status_code == 200
    assert post(confirmed=True, note="x").status_code == 409
    wrong = post(id=str(new_id()), confirmed=True, areas=[str(cast.site.area.pk), str(cast.foreign.area.pk)])
    assert (wrong.status_code, wrong.json()["errors"][0]["field"], wrong.json()["errors"][0]["row"]) == (
        404,
        "areas",
        2,
    )
    late = post(id=str(new_id()), confirmed=True, begins_at="2026-03-04T10:00:00Z")
    assert (late.status_code, "lies in the past" in late.json()["errors"][0]["message"]) == (422, True)
    listed = client.get(reverse("api_notice_list") + "?state=standing").json()["results"]
    assert [row["number"] for row in listed] == ["N-001"]
    assert as_person(cast.carl).get(reverse("api_notice", args=[told["id"]])).status_code == 404
