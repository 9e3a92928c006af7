"""What an office entered of a project by mistake has a way back, on the pages, in the journal, and for evidence too."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from django.test import Client
from django.utils import timezone

from accounts import vault
from accounts.models import JournalEntry, Organisation, Person, Role
from inspection.fieldwork.models import ClimateRecord, Record
from inspection.foundation.ids import new_id
from inspection.projects.models import Membership, Project
from inspection.standing.models import Standing
from reports.daily.models import DailyReport, ReportIssue
from reports.work.models import Job
from tests import cast as casting
from tests.cast import DAY, MORNING, Cast
from tests.standing.scene import measure, verify


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def text_of(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def data_of(cast: Cast, **changed: Any) -> dict[str, Any]:
    project = cast.site.project
    return {
        "code": project.code, "name": project.name, "client": project.client_id, "contractor": "", "unit": "um",
        "time_zone": project.time_zone, "shift_starts": project.shift_starts, "reason": "Typed wrongly", **changed,
    }  # fmt: skip


def address(cast: Cast, deed: str) -> str:
    return f"/projects/{cast.site.project.pk}/{deed}/"


def confirmed(client: Client, cast: Cast, sent: dict[str, Any]) -> Any:
    """The same sent again with what the preview gave along."""
    shown = text_of(client.post(address(cast, "correct"), sent))
    token = shown.split('name="confirmed" value="')[1].split('"')[0]
    return client.post(address(cast, "correct"), {**sent, "confirmed": token})


def test_other_shifts_and_another_unit_say_which_records_and_reports_they_touch(cast: Cast) -> None:
    """Readings from 08:00 to 08:20; a shift that begins at 09:00 has them on the day before."""
    record = measure(cast, "08:00", "08:20")
    file = vault.store(b"%PDF-1.4", name="draft.pdf", media_type="application/pdf", by=None)
    report = DailyReport.objects.create(project=cast.site.project, day=DAY, draft=file, facts_digest="1" * 64)
    ReportIssue.objects.create(report=report, revision=1, file=file, facts_digest="1" * 64, issued_by=cast.quinn)
    client, sent = as_person(cast.quinn), data_of(cast, shift_starts="09:00", unit="mil")
    shown = text_of(client.post(address(cast, "correct"), sent))
    for sentence in (
        "1 record is counted to another day.",
        "1 record is in another shift of the project, unless a crew’s own shift holds them.",
        "1 record is shown in mil; what is stored of them stays as it is.",
        "1 daily report is built again.",
        "1 issued revision stays as it was issued; a further one tells what is right now.",
    ):
        assert sentence in shown, sentence
    assert not Job.objects.exists()
    assert confirmed(client, cast, sent).status_code == 302
    assert Job.objects.get().about == str(report.pk)
    assert Record.objects.get(pk=record.pk).digest == record.digest
    # What is corrected back is told again, and says the same the other way.
    again = text_of(client.post(address(cast, "correct"), data_of(cast)))
    assert "1 record is counted to another day." in again


def test_another_contractor_says_whose_people_no_longer_see_the_project(cast: Cast) -> None:
    painters = Organisation.objects.create(name="Painters", kind="contractor")
    client = as_person(cast.quinn)
    assert client.post(address(cast, "correct"), data_of(cast, contractor=painters.pk)).status_code == 302
    pia = casting.person("Pia Painter", painters, Role.CONTRACTOR)
    Membership.objects.create(project=cast.site.project, person=pia, organisation=painters, role=Role.CONTRACTOR)
    page = f"/projects/{cast.site.project.pk}/"
    assert as_person(pia).get(page).status_code == 200
    shown = text_of(client.post(address(cast, "correct"), data_of(cast)))
    assert (
        "Painters (painting contractor) is no longer a party; its people no longer see the project: Pia Painter."
        in shown
    )
    assert as_person(pia).get(page).status_code == 200
    assert confirmed(client, cast, data_of(cast)).status_code == 302
    assert as_person(pia).get(page).status_code == 404


def test_a_name_and_code_are_corrected_and_the_journal_keeps_both(cast: Cast) -> None:
    answer = as_person(cast.quinn).post(address(cast, "correct"), data_of(cast, code="P-7", name="Quay"), follow=True)
    assert "P-7 Quay" in text_of(answer)
    entry = JournalEntry.objects.get(verb="project.corrected")
    assert (entry.before, entry.after, entry.reason) == (
        {"code": "P-1", "name": "Works P-1"}, {"code": "P-7", "name": "Quay"}, "Typed wrongly",
    )  # fmt: skip


def test_a_code_that_another_project_has_and_a_missing_reason_are_told_together(cast: Cast) -> None:
    answer = as_person(cast.quinn).post(address(cast, "correct"), data_of(cast, code="p-2", reason=""))
    assert answer.status_code == 422
    again = as_person(cast.quinn).post(address(cast, "correct"), data_of(cast, code="p-2"))
    assert "There is already a project p-2" in text_of(again)
    assert Project.objects.get(pk=cast.site.project.pk).code == "P-1"


def test_another_client_does_not_come_in_while_people_of_the_former_one_take_part(cast: Cast) -> None:
    client, sent = as_person(cast.quinn), data_of(cast, client=cast.other_owner.pk)
    assert "Clara Client of Owner One still take part" in text_of(client.post(address(cast, "correct"), sent))
    Membership.objects.filter(person=cast.clara).update(ended_at=timezone.now())
    assert "Owner One (client) is no longer a party" in text_of(client.post(address(cast, "correct"), sent))
    assert confirmed(client, cast, sent).status_code == 302
    assert as_person(cast.clara).get(f"/projects/{cast.site.project.pk}/").status_code == 404


def test_other_shifts_are_judged_again_and_what_that_changes_is_shown_before(cast: Cast) -> None:
    """Opening check 06:40, readings from 08:00, closing check 09:00; a shift that begins at 07:00 parts them."""
    verify(cast, "06:40")
    record = measure(cast, "08:00", "08:20")
    verify(cast, "09:00")
    assert Standing.objects.get(record=record).state == "sound"
    client, sent = as_person(cast.quinn), data_of(cast, shift_starts="07:00")
    shown = text_of(client.post(address(cast, "correct"), sent))
    assert "1 record judged again, sound before, in question then" in shown
    assert Standing.objects.get(record=record).state == "sound"
    assert Project.objects.get(pk=cast.site.project.pk).shift_starts == "06:00, 18:00"
    confirmed = shown.split('name="confirmed" value="')[1].split('"')[0]
    # What is sent again must be what was shown.
    other = client.post(address(cast, "correct"), {**sent, "shift_starts": "07:30", "confirmed": confirmed})
    assert other.status_code == 200
    assert client.post(address(cast, "correct"), {**sent, "confirmed": confirmed}).status_code == 302
    assert Standing.objects.get(record=record).state == "in_question"


def test_a_closed_project_begins_nothing_takes_in_late_evidence_and_opens_again(cast: Cast) -> None:
    manager, ines, site = as_person(cast.quinn), as_person(cast.ines), cast.site
    assert manager.post(address(cast, "close"), {"reason": ""}).status_code == 422
    assert manager.post(address(cast, "close"), {"reason": "Handed over"}).status_code == 302
    assert manager.post(address(cast, "structures/new"), {"name": "Second tank"}).status_code in (409, 422)
    late = {
        "id": str(new_id()), "project": str(site.project.pk), "area": str(site.area.pk), "coat": str(site.coats[0].pk),
        "taken_at": (MORNING + timedelta(hours=1)).isoformat(), "dry_bulb_c": 18, "surface_c": 17,
        "relative_humidity_pct": 60,
    }  # fmt: skip
    answer = ines.post("/api/climate/", late, "application/json")
    assert answer.status_code == 201, answer.content
    assert ClimateRecord.objects.get().taken_at == datetime(2026, 3, 4, 8, 0, tzinfo=UTC)
    assert manager.post(address(cast, "reopen"), {"reason": "A tank is added"}).status_code == 302
    assert manager.post(address(cast, "structures/new"), {"name": "Second tank"}).status_code == 302
    verbs = JournalEntry.objects.filter(verb__in=("project.closed", "project.reopened")).order_by("pk")
    assert list(verbs.values_list("verb", "reason")) == [
        ("project.closed", "Handed over"), ("project.reopened", "A tank is added"),
    ]  # fmt: skip


def test_ending_a_part_asks_once_and_says_what_the_person_still_holds(cast: Cast) -> None:
    membership = Membership.objects.get(project=cast.site.project, person=cast.clara)
    cast.site.project.holdpoints.create(area=cast.site.area, coat=cast.site.coats[0], title="Primer accepted")
    asked = as_person(cast.quinn).get(f"/projects/members/{membership.pk}/end/")
    assert "1 point waits for them in P-1" in text_of(asked)
    assert Membership.objects.get(pk=membership.pk).ended_at is None
    assert as_person(cast.ines).get(f"/projects/members/{membership.pk}/end/").status_code == 403
    assert as_person(cast.igor).get(f"/projects/members/{membership.pk}/end/").status_code in (403, 404)
    as_person(cast.quinn).post(f"/projects/members/{membership.pk}/end/")
    assert Membership.objects.get(pk=membership.pk).ended_at
