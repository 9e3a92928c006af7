"""The diary of a day: entries by actions, pages and API, notes to the next shift, the signature under one's day."""

from __future__ import annotations

import io
import json
import re
import zipfile
from datetime import timedelta
from decimal import Decimal
from importlib import import_module
from typing import Any

import pytest
import time_machine
from django.apps import apps
from django.db import connection
from django.http import Http404
from django.test import Client
from django.test.utils import CaptureQueriesContext

from accounts.models import JournalEntry, Person
from inspection.diary import actions, queries, signing, work
from inspection.diary.checks import EntrySent
from inspection.diary.models import DaySignature, DiaryEntry, SignedThing
from inspection.fieldwork import actions as fieldwork
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Asked, Conflict, NotAllowed, Refused
from inspection.foundation.triggers import lifted
from inspection.projects.models import Membership, Party
from inspection.trace.bundle import bundle
from inspection.trace.kinds import kind_named
from inspection.trace.queries import rests_on, rests_on_it
from inspection.works.models import Crew, CrewPerson, Shift
from reports.daily.actions import issue_report
from reports.verify import diary as verified
from tests.cast import DAY, MORNING, PASSWORD, Cast
from tests.fieldwork.build import sent as measured
from tests.past_triggers import rewrite
from tests.reports.test_issue import built

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)
EVENING = MORNING + 10 * HOUR


@pytest.fixture(autouse=True)
def _evening() -> Any:
    with time_machine.travel(EVENING, tick=False):
        yield


@pytest.fixture
def crew(cast: Cast) -> Crew:
    party = Party.objects.get(project=cast.site.project, kind=Party.Kind.INSPECTION)
    crew = Crew.objects.create(project=cast.site.project, party=party, name="Days")
    CrewPerson.objects.create(crew=crew, person=cast.ines, begun_at=MORNING - HOUR)
    Shift.objects.create(crew=crew, planned_begin=MORNING - HOUR, planned_end=MORNING + 9 * HOUR)
    return crew


def as_person(who: Person) -> Client:
    client = Client()
    client.force_login(who)
    return client


def words(answer: Any) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def write(cast: Cast, kind: str, *, by: Person | None = None, confirmed: bool = False, **columns: Any) -> DiaryEntry:
    sent = EntrySent(kind=kind, day=DAY, **columns)
    entry, _ = actions.write_entry(
        by or cast.ines, id=new_id(), project=cast.site.project, sent=sent, confirmed=confirmed
    )
    return entry


def sign(cast: Cast, by: Person, **otherwise: Any) -> DaySignature:
    digest = queries.day_of(by, cast.site.project, DAY).mine.digest
    told = {"id": new_id(), "project": cast.site.project, "day": DAY, "digest": digest, "password": PASSWORD}
    return signing.sign_day(by, **told | otherwise)[0]


def test_an_entry_is_kept_once_corrected_withdrawn_and_brought_back(cast: Cast, crew: Crew) -> None:
    project, pk = cast.site.project, new_id()
    sent = EntrySent(kind="crew", day=DAY, crew=crew, people=6, hours=Decimal("7.5"), text=" Blasting ")
    first, new = actions.write_entry(cast.ines, id=pk, project=project, sent=sent)
    again, anew = actions.write_entry(cast.ines, id=pk, project=project, sent=sent)
    assert (new, anew, again, first.party, first.text) == (True, False, first, crew.party, "Blasting")
    with pytest.raises(Conflict):
        actions.write_entry(cast.ines, id=pk, project=project, sent=EntrySent(kind="plan", day=DAY, text="Prime"))
    later = EntrySent(kind="crew", day=DAY, crew=crew, people=5, hours=Decimal("7.5"))
    second, _ = actions.correct_entry(cast.ines, entry=first, id=new_id(), sent=later, reason="one went home")
    assert (second.version, second.replaces, second.people) == (2, first, 5)
    with pytest.raises(Conflict, match="version 2"):
        actions.correct_entry(cast.quinn, entry=first, id=new_id(), sent=sent, reason="late")
    with pytest.raises(Refused, match="Nothing differs"):
        actions.correct_entry(cast.ines, entry=second, id=new_id(), sent=later, reason="again")
    with pytest.raises(Refused):
        actions.withdraw_entry(cast.ines, entry=second, reason=" ")
    actions.withdraw_entry(cast.quinn, entry=second, reason="the crew was on another site")
    assert not DiaryEntry.objects.that_count().exists()
    actions.restore_entry(cast.ines, entry=second, reason="it was here after all")
    assert [row.pk for row in DiaryEntry.objects.that_count()] == [second.pk]
    verbs = JournalEntry.objects.filter(verb__startswith="diary.").order_by("pk").values_list("verb", flat=True)
    assert list(verbs) == ["diary.entered", "diary.corrected", "diary.withdrawn", "diary.restored"]
    totals = queries.day_of(cast.ines, project, DAY).totals
    assert totals.people == [("The Company", 5, Decimal("37.5"))]


@pytest.mark.parametrize(
    ("columns", "fields"),
    [
        ({"kind": "crew", "people": 6, "hours": Decimal(8)}, {"crew"}),
        ({"kind": "crew", "organisation": "Scaffolders", "people": 0, "hours": Decimal("24.5")}, {"people", "hours"}),
        ({"kind": "visitor", "who": "A. Surveyor", "cause": "weather"}, {"organisation", "text", "cause"}),
        ({"kind": "delay", "cause": "moon", "hours": Decimal("0.333")}, {"cause", "hours"}),
        ({"kind": "plan", "text": "Prime\x00", "day": DAY + timedelta(days=1)}, {"day", "text"}),
        ({"kind": "weather"}, {"kind"}),
    ],
)
def test_what_is_wrong_is_told_field_by_field_and_nothing_is_kept(
    cast: Cast, columns: dict[str, Any], fields: set[str]
) -> None:
    with pytest.raises(Refused) as refusal:
        actions.write_entry(
            cast.ines, id=new_id(), project=cast.site.project, sent=EntrySent(**{"day": DAY, **columns})
        )
    assert {fault.field for fault in refusal.value.faults} == fields
    assert not DiaryEntry.objects.exists()


def test_what_is_doubtful_is_asked_about_once_and_kept_with_the_entry(cast: Cast, crew: Crew) -> None:
    write(cast, "crew", crew=crew, people=6, hours=Decimal(8))
    write(cast, "narrative", text="Rain until noon.")
    write(cast, "narrative", by=cast.quinn, text="Seen from the office.")
    with pytest.raises(Asked) as asked:
        write(cast, "crew", crew=crew, people=6, hours=Decimal(17))
    assert len(asked.value.faults) == 2
    with pytest.raises(Asked, match="one for this day already"):
        write(cast, "narrative", text="And sun after it.")
    kept = write(cast, "crew", crew=crew, people=6, hours=Decimal(17), confirmed=True)
    assert kept.gone_over[0] == "17 h each is more than a shift of 16 h."
    delay = {"cause": "weather", "hours": Decimal("2.5")}
    write(cast, "delay", **delay)
    with pytest.raises(Asked, match="Just this"):
        write(cast, "delay", **delay)
    # Over the project hours are added up by cause and by whom.
    write(cast, "delay", confirmed=True, **delay)
    write(cast, "delay", cause="access", hours=Decimal(7), party=crew.party)
    assert queries.lost_in_all(cast.ines, cast.site.project) == [
        ("Access or scaffold", "The Company", 1, Decimal(7)), ("Weather", "", 1, Decimal(5)),
    ]  # fmt: skip
    assert queries.lost_in_all(cast.clara, cast.site.project) == []


def test_a_note_is_shown_to_whoever_works_next_until_they_have_read_it(cast: Cast) -> None:
    Membership.objects.create(
        project=cast.site.project, person=cast.igor, organisation=cast.company, role="inspector"
    )  # fmt: skip
    note = write(cast, "handover", text="Dehumidifier 2 is off.")
    ours, theirs = as_person(cast.ines), as_person(cast.igor)
    assert "Dehumidifier 2 is off." not in words(ours.get("/today/"))
    assert "Dehumidifier 2 is off." in words(theirs.get("/today/"))
    with pytest.raises(Refused, match="yourself"):
        actions.mark_read(cast.ines, entry=note)
    theirs.post(f"/diary/{note.pk}/read/", {"from": "today"})
    assert "Dehumidifier 2 is off." not in words(theirs.get("/today/"))
    assert "Igor Inspector, 2026-03-04" in words(ours.get(f"/diary/{note.pk}/"))
    theirs.post(f"/diary/{note.pk}/unread/")
    assert "Dehumidifier 2 is off." in words(theirs.get("/today/"))
    # What was read of an older version is not read of the new one; an old note is old news.
    actions.mark_read(cast.igor, entry=note)
    actions.correct_entry(
        cast.ines, entry=note, id=new_id(), sent=EntrySent(kind="handover", day=DAY, text="It is 3."), reason="slip"
    )
    assert [each.entry.text for each in queries.notes_for(cast.igor, [cast.site.project])] == ["It is 3."]
    with time_machine.travel(EVENING + timedelta(days=15), tick=False):
        assert queries.notes_for(cast.igor, [cast.site.project]) == []


def test_a_day_is_signed_over_all_of_it_and_tells_what_changed_after(cast: Cast, in_date: Cast) -> None:
    project = cast.site.project
    with pytest.raises(Refused, match="nothing to sign"):
        sign(cast, cast.ines, digest="0" * 64)
    entry = write(cast, "narrative", text="Rain until noon.")
    write(cast, "plan", by=cast.quinn, text="Prime the hatch.")
    record, _ = fieldwork.record_thickness(cast.ines, **measured(cast))
    before = queries.day_of(cast.ines, project, DAY).mine
    assert (before.covers, before.to_sign) == ("1 record, 1 diary entry", True)
    with pytest.raises(Refused, match="That is not your password"):
        sign(cast, cast.ines, password="a guess")
    with pytest.raises(Conflict, match="changed since you looked"):
        sign(cast, cast.ines, digest="0" * 64)
    assert not DaySignature.objects.exists()
    signature = sign(cast, cast.ines)
    assert [thing.words for thing in before.things] == [
        "thickness, A1, Pass", "Narrative of the day, Rain until noon.",
    ]  # fmt: skip
    kept = signature.content
    assert [line["id"] for line in kept] == [str(record.pk), str(entry.pk)]
    assert JournalEntry.objects.get(verb="day.signed").after["digest"] == signature.digest
    with pytest.raises(Conflict, match="just this already"):
        sign(cast, cast.ines)
    assert list(verified.differences()) == []
    # The next day says which days of the last week are still to be signed.
    with time_machine.travel(EVENING + timedelta(days=1), tick=False):
        assert queries.unsigned_days(cast.ines, [project], EVENING + timedelta(days=1)) == []
        assert queries.unsigned_days(cast.quinn, [project], EVENING + timedelta(days=1)) == [(project, DAY)]
    assert queries.unsigned_days(cast.quinn, [project], EVENING) == []

    write(cast, "delay", cause="weather", hours=Decimal(2))
    actions.withdraw_entry(cast.quinn, entry=entry, reason="of another day")
    told = queries.day_of(cast.ines, project, DAY)
    assert told.signed[0].since == "1 diary entry added; 1 diary entry corrected or withdrawn"
    assert told.mine.to_sign
    assert "Changed after signing" in words(as_person(cast.audrey).get(f"/projects/{project.pk}/days/{DAY}/"))
    second = sign(cast, cast.ines)
    assert second.number == 2
    assert queries.day_of(cast.ines, project, DAY).signed[0].since == ""
    # A withdrawal of an entry comes later and is no forgery; a rewritten word is.
    assert list(verified.differences()) == []

    with pytest.raises(NotAllowed):
        signing.withdraw_signature(cast.quinn, signature=second, reason="not mine")
    signing.withdraw_signature(cast.ines, signature=second, reason="too early")
    assert queries.day_of(cast.ines, project, DAY).signed[0].signature == signature
    assert sign(cast, cast.ines).number == 3


def test_a_signature_and_entries_stand_in_the_trace_the_bundle_and_under_the_report(cast: Cast, in_date: Cast) -> None:
    entry = write(cast, "narrative", text="Rain until noon.")
    own = write(cast, "handover", text="Mind the hatch")
    record, _ = fieldwork.record_thickness(cast.ines, **measured(cast))
    signature = sign(cast, cast.ines)
    kind = kind_named("daysignature")
    assert kind
    under = {layer.kind.name: {node.pk for node in layer.nodes} for layer in rests_on(signature, kind, cast.quinn)}
    assert (under["thickness"], under["diaryentry"]) == ({record.pk}, {entry.pk, own.pk})
    above = {layer.kind.name: layer.total for layer in rests_on_it(record, kind_named("thickness"), cast.audrey)}
    assert above["daysignature"] == 1
    seen = {layer.kind.name for layer in rests_on_it(record, kind_named("thickness"), cast.clara)}
    assert "daysignature" not in seen, "the diary is the company's own"
    archive = zipfile.ZipFile(io.BytesIO(bundle(signature, kind, cast.quinn, EVENING)))
    held = json.loads(archive.read(f"records/diaryentry/{entry.pk}.json"))
    assert (held["text"], held["digest"]) == ("Rain until noon.", entry.digest)
    assert f"records/thickness/{record.pk}.json" in archive.namelist()
    page = as_person(cast.quinn).get(f"/day-signatures/{signature.pk}/").content.decode()
    assert f"/trace/daysignature/{signature.pk}/" in page
    # Signatures of before these rows were kept get them from their lines.
    rows = set(SignedThing.objects.values_list("kind", "thing"))
    with lifted(connection, SignedThing._meta.db_table):
        SignedThing.objects.all().delete()
    import_module("inspection.diary.migrations.0002_what_signatures_cover").keep(apps, None)
    assert set(SignedThing.objects.values_list("kind", "thing")) == rows
    report = built(cast)
    reviewed_and_issued = issue_report(cast.quinn, report=report)
    told = set(reviewed_and_issued.basis.filter(kind__startswith="d").values_list("kind", "thing"))
    assert {("diaryentry", entry.pk), ("daysignature", signature.pk)} <= told
    assert ("diaryentry", own.pk) not in told, "a note to the next shift is never printed"


def test_verify_finds_a_signed_day_and_an_entry_that_were_altered(cast: Cast) -> None:
    entry = write(cast, "narrative", text="Rain until noon.")
    signature = sign(cast, cast.ines)
    rewrite(DiaryEntry.objects.filter(pk=entry.pk), text="Dry all day.", digest="0" * 64)
    found = list(verified.differences())
    assert len(found) == 3
    assert any("does not match its digest" in words for words in found)
    assert any(f"entry {entry.pk} is not what was signed" in words for words in found)
    rewrite(DaySignature.objects.filter(pk=signature.pk), content=[], digest="1" * 64)
    found = list(verified.differences())
    assert sum("signature" in words for words in found) == 2


def test_outside_parties_read_nothing_of_the_diary(cast: Cast) -> None:
    note = write(cast, "handover", text="Dehumidifier 2 is off.")
    signature = sign(cast, cast.ines)
    project, client = cast.site.project, as_person(cast.clara)
    assert client.get("/api/diary/").json()["results"] == []
    assert client.get("/api/day-signatures/").json()["results"] == []
    assert client.get(f"/diary/{note.pk}/").status_code == 404
    assert client.get(f"/day-signatures/{signature.pk}/").status_code == 404
    assert client.get(f"/projects/{project.pk}/days/{DAY}/").status_code == 403
    assert as_person(cast.igor).get(f"/projects/{project.pk}/days/{DAY}/").status_code == 404
    assert "Diary" not in words(client.get(f"/projects/{project.pk}/"))
    assert len(as_person(cast.audrey).get("/api/diary/").json()["results"]) == 1
    with pytest.raises(Http404):
        actions.mark_read(cast.igor, entry=note)
    with pytest.raises(NotAllowed):
        sign(cast, cast.audrey)


def test_the_pages_enter_ask_correct_and_sign(cast: Cast, crew: Crew) -> None:
    project, ours = cast.site.project, as_person(cast.ines)
    day = f"/projects/{project.pk}/days/{DAY}/"
    assert "Days , The Company: 06:00 to 16:00, 1 person of it known here." in words(ours.get(day))
    form = ours.get(f"{day}crew/new/?crew={crew.pk}").context["form"]
    assert (form["people"].value(), form["hours"].value()) == (1, "10")
    sent = {"id": str(new_id()), "crew": str(crew.pk), "people": "6", "hours": "7,5", "text": "Blasting"}
    assert ours.post(f"{day}crew/new/", sent).status_code == 302
    asked = ours.post(f"{day}crew/new/", {**sent, "id": str(new_id()), "hours": "8"})
    assert asked.status_code == 422
    assert "Is this meant?" in words(asked)
    confirmed = {**sent, "id": str(new_id()), "hours": "8", "confirmed": asked.context["confirmed"]}
    assert ours.post(f"{day}crew/new/", confirmed).status_code == 302
    first = DiaryEntry.objects.earliest("pk")
    given = ours.get(f"/diary/{first.pk}/correct/").context["form"].initial
    assert (given["people"], given["hours"], given["party"]) == (6, "7.5", None)
    wrong = ours.post(f"/diary/{first.pk}/correct/", {**sent, "id": str(new_id()), "people": "six", "reason": "slip"})
    assert "“six” is not a number; write it as 6." in words(wrong)
    assert ours.get(f"{day}weather/new/").status_code == 404
    assert ours.get(f"/projects/{project.pk}/days/1999-12-31/").status_code == 404
    shown = ours.get(day)
    assert "Entered" in words(shown)
    form = shown.context["form"]
    bad = {"id": str(form["id"].value()), "digest": form["digest"].value(), "password": "wrong"}
    assert "That is not your password; nothing was signed." in words(ours.post(f"{day}sign/", bad))
    ours.post(f"{day}sign/", {**bad, "password": PASSWORD})
    told = words(ours.get(day))
    assert "You have signed your day as it is." in told
    kept = DaySignature.objects.get()
    actions.withdraw_entry(cast.ines, entry=first, reason="twice")
    covered = ours.get(f"/day-signatures/{kept.pk}/").context["things"]
    assert [(thing.words, thing.changed) for thing in covered] == [
        ("Crew on site, Blasting", True), ("Crew on site, Blasting", False),
    ]  # fmt: skip
    assert f"{DAY:%a} {DAY} Ines Inspector, The Company" in words(ours.get(f"/projects/{project.pk}/days/"))


def test_the_api_takes_corrects_reads_and_signs_as_the_pages_do(cast: Cast) -> None:
    project, ours = cast.site.project, as_person(cast.ines)

    def post(address: str, sent: dict[str, Any]) -> Any:
        return ours.post(address, sent, content_type="application/json")

    sent = {"id": str(new_id()), "kind": "visitor", "day": f"{DAY}", "who": "A. Surveyor", "organisation": "Class",
            "clock": "10:30", "text": "looked at span 2"}  # fmt: skip
    address = f"/api/projects/{project.pk}/diary/"
    assert post(address, sent).status_code == 201
    told = post(address, sent)
    assert (told.status_code, told.json()["told"], told.json()["clock"]) == (200, "A. Surveyor, Class", "10:30:00")
    again = post(address, {**sent, "id": str(new_id())})
    assert (again.status_code, again.json()["errors"][0]["message"]) == (
        428,
        "Just this is entered for the day already.",
    )
    missing = post(address, {**sent, "id": str(new_id()), "party": str(new_id())})
    assert missing.status_code == 404
    correction = {name: sent[name] for name in ("who", "organisation", "text")}
    new = post(f"/api/diary/{sent['id']}/correct/", {**correction, "id": str(new_id()), "reason": "time unknown"})
    assert (new.status_code, new.json()["version"], new.json()["clock"]) == (201, 2, None)
    day = ours.get(f"/api/projects/{project.pk}/day/?day={DAY}").json()
    assert [entry["version"] for entry in day["entries"]] == [2]
    assert day["yours"]["covers"] == "2 diary entries"
    signed = post(
        f"/api/projects/{project.pk}/day/sign/",
        {"id": str(new_id()), "day": f"{DAY}", "digest": day["yours"]["digest"], "password": PASSWORD},
    )
    assert (signed.status_code, signed.json()["changed"]) == (201, "")
    assert ours.get(f"/api/projects/{project.pk}/day/?day={DAY}").json()["signed"][0]["changed"] == ""
    assert ours.get("/api/diary/?day=4.3.2026").status_code == 422
    note = write(cast, "handover", by=cast.quinn, text="Lamps are off after six.")
    assert ours.get(f"/api/projects/{project.pk}/day/?day={DAY}").json()["unread"] == [str(note.pk)]
    said = [post(f"/api/diary/{note.pk}/read/", {"read": read}).status_code for read in (True, True, False, False)]
    assert said == [200, 200, 200, 409]
    withdrawn = post(f"/api/day-signatures/{signed.json()['id']}/withdraw/", {"reason": "too early"})
    assert withdrawn.json()["withdrawn_why"] == "too early"


def test_a_day_asks_the_database_no_more_often_the_fuller_it_is(cast: Cast, crew: Crew) -> None:
    ours, day = as_person(cast.ines), f"/projects/{cast.site.project.pk}/days/{DAY}/"
    counts = []
    for round_ in range(2):
        write(cast, "handover", by=cast.quinn, text=f"Note {round_}", confirmed=True)
        write(cast, "handover", text=f"Mine {round_}", confirmed=True)
        write(cast, "visitor", who=f"V{round_}", organisation="Class", text="looked round")
        actions.mark_read(cast.quinn, entry=write(cast, "handover", text=f"Read {round_}", confirmed=True))
        if round_:
            sign(cast, cast.quinn)
        else:
            sign(cast, cast.ines)
        ours.get(day)
        with CaptureQueriesContext(connection) as asked:
            assert ours.get(day).status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]


@pytest.mark.once
def test_what_a_signature_covers_is_told_in_words() -> None:
    kinds = ["record", "record", "check", "rework", "rework", "rework_entry", "decision", "decision", "entry", "entry"]
    lines = [{"kind": kind, "id": f"{number}"} for number, kind in enumerate(kinds)]
    assert work.in_words(lines) == (
        "2 records, 1 gauge check, 2 diary entries, 2 items of rework, 1 entry of rework, 2 decisions on a point"
    )
    assert work.since(lines, lines) == ""
    assert work.since(lines[:2], lines[1:3]) == "1 gauge check added; 1 record no longer of this day"
