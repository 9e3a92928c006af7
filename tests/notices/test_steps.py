"""What becomes of a notice: moved, withdrawn, acknowledged, held or not; each with its way back and its letters."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar

from accounts import post, tidings
from accounts.models import JournalEntry, Letter, Tiding
from inspection.foundation.refusals import Asked, Conflict, NotAllowed, Refused
from inspection.holdpoints import actions as holdpoints
from inspection.holdpoints.models import HoldPoint
from inspection.notices import actions
from inspection.notices.models import Notice
from tests.cast import MORNING, Cast
from tests.holdpoints.planned import an_owner
from tests.notices.scene import FRIDAY, HOUR, a_painter, asked, give, lies, planned
from tests.past_triggers import rewrite
from tests.projects.test_pages import as_person

pytestmark = pytest.mark.django_db


def move(cast: Cast, notice: Notice, **more: Any) -> Notice:
    told: dict[str, Any] = {
        "begins_at": FRIDAY + 2 * HOUR, "ends_at": FRIDAY + 3 * HOUR, "meeting_place": "Gate", "reason": "Rain",
        "sequence": 0, "at": MORNING + HOUR, **more,
    }  # fmt: skip
    return actions.move_notice(told.pop("by", cast.ines), notice=notice, **told)


def appointment(about: str) -> Any:
    """The appointment of the letter about a change, as a library of RFC 5545 reads it."""
    (letter,) = Letter.objects.filter(kind="notice", about=about)
    return Calendar.from_ical(letter.calendar)


def test_a_notice_given_moved_and_withdrawn_is_one_appointment_that_changes(cast: Cast, mailoutbox: list[Any]) -> None:
    notice = give(cast, planned(cast), note="Bring lamps; ring the bell, twice")
    move(cast, notice)
    actions.withdraw_notice(cast.quinn, notice=notice, reason="Blasted again", at=MORNING + 2 * HOUR)
    assert {letter.person for letter in Letter.objects.filter(kind="notice")} == {cast.clara}
    given, moved, gone = (appointment(f"{notice.pk}:{sequence}") for sequence in range(3))
    # RFC 5546, 3.2.2 and 3.2.5: a request carries organiser, attendee, dates and a sequence; so does what cancels it.
    assert [str(each["method"]) for each in (given, moved, gone)] == ["REQUEST", "REQUEST", "CANCEL"]
    first, second, third = (each.walk("VEVENT")[0] for each in (given, moved, gone))
    assert first["uid"] == second["uid"] == third["uid"]
    assert [each["sequence"] for each in (first, second, third)] == [0, 1, 2]
    assert [str(each["status"]) for each in (first, second, third)] == ["CONFIRMED", "CONFIRMED", "CANCELLED"]
    assert (first.decoded("dtstart"), first.decoded("dtend")) == (FRIDAY, FRIDAY + HOUR)
    assert second.decoded("dtstart") == FRIDAY + 2 * HOUR
    assert first.to_ical().count(b"DTSTART:20260306T100000Z") == 1
    assert (str(first["location"]), str(second["location"])) == ("Gangway", "Gate")
    assert "ring the bell, twice" in str(first["description"])
    assert str(first["attendee"]) == "mailto:clara@example.com"
    assert "organizer" in third
    # RFC 6047: the part that carries it names the method as it does.
    post.send_due()
    (part,) = mailoutbox[0].attachments
    assert (part.get_content_type(), part.get_param("method"), part.get_filename()) == (
        "text/calendar", "REQUEST", "appointment-1.ics",
    )  # fmt: skip
    assert "Bring lamps" in mailoutbox[0].body
    assert "Why: Blasted again" in mailoutbox[2].body


def test_each_person_hears_of_a_notice_in_the_way_they_chose_and_once(cast: Cast, mailoutbox: list[Any]) -> None:
    owner = an_owner(cast)
    tidings.choose(cast.clara, ways={"notice": "digest"})
    tidings.choose(owner, ways={"notice": "page"})
    notice = give(cast, planned(cast, client="hold", owner="witness", inspection="witness"), by=cast.quinn)
    # Whoever gave it is not written to, and a manager who takes no part neither.
    assert [letter.person for letter in Letter.objects.filter(kind="notice")] == [cast.ines]
    assert [row.person for row in Tiding.objects.filter(kind="notice")] == [cast.clara]
    tidings.write_digests(timezone.now() + HOUR)
    post.send_due(timezone.now() + HOUR)
    digest = next(mail for mail in mailoutbox if mail.to == ["clara@example.com"])
    assert str(Calendar.from_ical(digest.attachments[0].get_payload(decode=True))["method"]) == "REQUEST"
    assert f"{notice}: inspection notified" in digest.body
    assert as_person(owner).get(reverse("notice", args=[notice.pk])).status_code == 200


def test_moved_its_lead_time_counts_again_and_whoever_looked_before_is_told_so(cast: Cast) -> None:
    line, owner = planned(cast, client="hold", owner="witness"), an_owner(cast)
    asked(cast, 50)
    notice = give(cast, line)
    actions.acknowledge(cast.clara, notice=notice)
    with pytest.raises(Asked, match="short"):
        move(cast, notice, begins_at=FRIDAY - 10 * HOUR, ends_at=FRIDAY)
    notice.refresh_from_db()
    assert (notice.begins_at, notice.sequence) == (FRIDAY, 0)
    moved = move(cast, notice, begins_at=FRIDAY - 10 * HOUR, ends_at=FRIDAY, confirmed=True)
    # From Wednesday 08:00 to Friday 00:00 are 40 hours of the 50.
    assert (moved.short_hours, moved.sequence) == (10, 1)
    # The same sent again is the same; another from what was seen before is refused.
    same = move(cast, notice, begins_at=FRIDAY - 10 * HOUR, ends_at=FRIDAY, confirmed=True)
    assert (same.sequence, notice.steps.count()) == (1, 3)
    with pytest.raises(Conflict, match="changed since you looked"):
        move(cast, notice)
    with pytest.raises(Refused, match="lies in the past"):
        move(cast, notice, sequence=1, begins_at=MORNING)
    with pytest.raises(Refused, match="Nothing differs"):
        move(cast, notice, sequence=1, begins_at=FRIDAY - 10 * HOUR, ends_at=FRIDAY)
    assert set(HoldPoint.objects.values_list("notified_for", flat=True)) == {FRIDAY - 10 * HOUR}
    # Who acknowledged the former time has not acknowledged this one.
    page = as_person(owner).get(reverse("notice", args=[notice.pk])).content.decode()
    assert "not acknowledged yet" in page
    assert "Acknowledged:" not in page
    for somebody in (cast.clara, cast.audrey, a_painter(cast)):
        with pytest.raises(NotAllowed, match="by the party that gave it"):
            move(cast, notice, sequence=1, by=somebody)


def test_a_withdrawal_is_taken_back_while_its_time_is_to_come(cast: Cast) -> None:
    notice = give(cast, planned(cast))
    actions.withdraw_notice(cast.ines, notice=notice, reason="Rain", at=MORNING)
    assert set(lies(cast)) == {"Not ready"}
    with pytest.raises(Conflict, match="is withdrawn"):
        actions.withdraw_notice(cast.ines, notice=notice, reason="Rain", at=MORNING)
    with pytest.raises(Conflict, match="give another notice"):
        actions.restore_notice(cast.ines, notice=notice, reason="Dry", at=FRIDAY + HOUR)
    back = actions.restore_notice(cast.ines, notice=notice, reason="Dry", at=MORNING + HOUR)
    assert (back.state, back.sequence, set(lies(cast))) == ("standing", 2, {"Notified"})
    assert str(appointment(f"{notice.pk}:2")["method"]) == "REQUEST"
    verbs = list(JournalEntry.objects.filter(object_id=str(notice.pk)).order_by("pk").values_list("verb", "reason"))
    assert verbs == [("notice.given", ""), ("notice.withdrawn", "Rain"), ("notice.restored", "Dry")]


def test_a_party_acknowledges_once_and_takes_it_back(cast: Cast) -> None:
    notice = give(cast, planned(cast))
    first = actions.acknowledge(cast.clara, notice=notice)
    assert actions.acknowledge(cast.clara, notice=notice) == first
    assert str(first.party) == "Owner One (client)"
    with pytest.raises(NotAllowed):
        actions.acknowledge(cast.ines, notice=notice)
    client, address = as_person(cast.clara), reverse("notice", args=[notice.pk])
    assert "Clara Client, Owner One" in client.get(address).content.decode()
    back = reverse("notice_unacknowledge", args=[notice.pk])
    party = str(first.party_id)
    assert client.post(back, {"party": party, "reason": ""}).status_code == 422
    assert client.post(back, {"party": party, "reason": "The wrong day"}).status_code == 302
    again = client.get(address).content.decode()
    assert "Acknowledge for Owner One (client)" in again
    with pytest.raises(Conflict):
        actions.take_acknowledgement_back(cast.clara, notice=notice, reason="Twice")


def test_an_outcome_is_told_once_it_has_begun_with_why_and_where_and_taken_back(cast: Cast) -> None:
    notice = give(cast, planned(cast))

    def tell(outcome: str, **more: Any) -> Notice:
        return actions.record_outcome(cast.ines, notice=notice, outcome=outcome, at=FRIDAY + HOUR, **more)

    with pytest.raises(Refused, match="has not begun"):
        actions.record_outcome(cast.ines, notice=notice, outcome="held", at=MORNING)
    with pytest.raises(NotAllowed):
        actions.record_outcome(cast.clara, notice=notice, outcome="held", at=FRIDAY)
    with pytest.raises(Refused, match="Choose why"):
        tell("not_held")
    with pytest.raises(Refused, match="what the reason was"):
        tell("not_held", why="other")
    places = list(notice.places.order_by("area__code"))
    for wrong in ([], [place.pk for place in places], [0]):
        with pytest.raises(Refused, match="places"):
            tell("partly", why="not_ready", places=wrong)
    tell("partly", why="not_ready", places=[places[0].pk])
    assert set(lies(cast)) == {"Not ready"}
    page = as_person(cast.clara).get(reverse("notice", args=[notice.pk])).content.decode()
    assert "the work was not ready" in page
    assert "Not held</span>" in page
    assert "the work was not ready 1" in as_person(cast.quinn).get(
        f"{reverse('notice_list')}?project={cast.site.project.pk}"
    ).content.decode()  # fmt: skip
    with pytest.raises(Conflict):
        tell("held")
    back = actions.take_outcome_back(cast.quinn, notice=notice, reason="It was held at both", at=FRIDAY + HOUR)
    assert (back.state, set(lies(cast))) == ("standing", {"Notified"})
    assert tell("held").state == "held"
    call_command("standing", "--check")


def test_a_decided_point_is_told_as_decided_and_one_presented_again_as_notified(cast: Cast) -> None:
    give(cast, planned(cast))
    point = HoldPoint.objects.get(area=cast.site.area)
    holdpoints.close_point(cast.quinn, point=point, reason="Not asked for")
    assert lies(cast) == ["Not applicable", "Notified"]
    holdpoints.reopen_point(cast.quinn, point=point, reason="Asked for after all")
    assert lies(cast) == ["Notified", "Notified"]


def test_who_came_is_noted_at_the_point_and_read_in_the_notice(cast: Cast) -> None:
    notice = give(cast, planned(cast))
    point = HoldPoint.objects.get(area=cast.site.area)
    holdpoints.note_attendance(cast.ines, point=point, attended=False)
    page = as_person(cast.ines).get(reverse("notice", args=[notice.pk])).content.decode()
    assert "Owner One: did not come" in page


def test_a_painter_reads_of_a_place_what_board_and_matrix_say_of_it(cast: Cast) -> None:
    painter, notice = a_painter(cast), give(cast, planned(cast))
    page = as_person(painter).get(reverse("notice", args=[notice.pk])).content.decode()
    assert ("Notified" in page, "Waiting" in page) == (True, False)


def test_only_who_may_give_a_notice_is_told_how_and_a_painter_finds_what_was_refused(cast: Cast) -> None:
    empty = {who: as_person(who).get(reverse("notice_list")).content.decode() for who in (cast.audrey, cast.ines)}
    assert all("No notice is like that." in page for page in empty.values())
    assert ["to give one" in page for page in empty.values()] == [False, True]
    landing = as_person(a_painter(cast)).get(reverse("asked_of_us")).content.decode()
    assert f'href="{reverse("board")}?place=refused"' in landing


def soon(notice: Notice) -> None:
    """As if it were tomorrow's."""
    begin = timezone.now() + timedelta(hours=20)
    rewrite(Notice.objects.filter(pk=notice.pk), begins_at=begin, ends_at=begin + HOUR)


def test_the_next_days_notices_stand_on_every_landing_page_and_in_the_list(cast: Cast) -> None:
    painter, notice = a_painter(cast), give(cast, planned(cast))
    soon(notice)
    address = reverse("notice", args=[notice.pk])
    landings = {cast.ines: "today", cast.quinn: "decisions", cast.clara: "board", painter: "asked_of_us"}
    for person, landing in landings.items():
        page = as_person(person).get(reverse(landing)).content.decode()
        assert "Inspections of the next days" in page, landing
        assert f'href="{address}"' in page
        assert address in as_person(person).get(reverse("notice_list")).content.decode()
    for stranger, landing in ((cast.igor, "today"), (cast.carl, "board")):
        assert "Inspections of the next days" not in as_person(stranger).get(reverse(landing)).content.decode()


def test_the_appointment_of_one_notice_is_downloaded_as_published(cast: Cast) -> None:
    notice = give(cast, planned(cast))
    answer = as_person(cast.audrey).get(reverse("notice_file", args=[notice.pk]))
    calendar = Calendar.from_ical(answer.content)
    # RFC 5546, 3.2.1: what is published has no attendee.
    assert (str(calendar["method"]), "attendee" in calendar.walk("VEVENT")[0]) == ("PUBLISH", False)
    assert answer["Content-Disposition"] == 'attachment; filename="notice-001.ics"'
    assert answer.content.startswith(b"BEGIN:VCALENDAR\r\n")


def test_the_pages_change_a_notice_and_show_what_is_wrong(cast: Cast) -> None:
    notice = give(cast, planned(cast))
    client = as_person(cast.ines)
    shown = client.get(reverse("notice_move", args=[notice.pk])).content.decode()
    assert 'value="2026-03-06T10:00"' in shown
    later = timezone.now() + timedelta(days=2)
    form = {
        "begins_at": f"{later:%Y-%m-%dT%H:%M}", "ends_at": f"{later + HOUR:%Y-%m-%dT%H:%M}", "meeting_place": "Gate",
        "reason": "Rain", "sequence": "0",
    }  # fmt: skip
    past = client.post(reverse("notice_move", args=[notice.pk]), {**form, "begins_at": "2026-03-04T10:00"})
    assert (past.status_code, "lies in the past" in past.content.decode()) == (422, True)
    assert client.post(reverse("notice_move", args=[notice.pk]), form).status_code == 302
    assert client.post(reverse("notice_withdraw", args=[notice.pk]), {"reason": "Rain"}).status_code == 302
    assert client.post(reverse("notice_restore", args=[notice.pk]), {"reason": "Dry"}).status_code == 302
    soon(notice)
    rewrite(Notice.objects.filter(pk=notice.pk), begins_at=datetime(2026, 3, 6, 10, tzinfo=UTC))
    told = {"outcome": "partly", "why": "postponed", "areas": [str(cast.site.area.pk)]}
    assert client.post(reverse("notice_outcome", args=[notice.pk]), {"outcome": "partly"}).status_code == 422
    assert client.post(reverse("notice_outcome", args=[notice.pk]), told).status_code == 302
    assert client.post(reverse("notice_reopen", args=[notice.pk]), {"reason": "Slip"}).status_code == 302
    assert [step.what for step in notice.steps.all()] == [
        "given", "moved", "withdrawn", "restored", "partly", "reopened",
    ]  # fmt: skip


def test_no_page_asks_more_for_more_notices_or_places(cast: Cast) -> None:
    line, asked_for = planned(cast), []
    client, project = as_person(cast.clara), cast.site.project
    for many in (1, 5):
        while Notice.objects.count() < many:
            areas = [cast.site.area, cast.site.other_area][: Notice.objects.count() + 1]
            notice = give(cast, line, areas=areas)
            soon(notice)
        addresses = [
            reverse("notice_list") + f"?project={project.pk}", reverse("notice", args=[notice.pk]), reverse("board"),
            reverse("points_matrix", args=[project.pk]), reverse("api_notice_list"),
        ]  # fmt: skip
        counts = []
        for address in addresses:
            client.get(address)
            with CaptureQueriesContext(connection) as queries:
                assert client.get(address).status_code == 200
            counts.append(len(queries))
        asked_for.append(counts)
    assert asked_for[0] == asked_for[1]
