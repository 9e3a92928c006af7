"""`manage.py verify` names what somebody with the database in their hands has done, and is quiet about honest work."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.mail import EmailMessage
from django.core.management import call_command
from django.db import connection, transaction

from accounts import chain, journal, keys, post, vault
from accounts.models import ChainLink, JournalEntry, Letter, StoredFile
from inspection.fieldwork.climate.logger_files import store_file
from inspection.fieldwork.climate.models import LoggerFile
from inspection.fieldwork.climate.samples import packed, unpacked
from inspection.fieldwork.climate.stations import declare_station
from inspection.fieldwork.models import ClimateRecord, Reading, ThicknessRecord
from inspection.holdpoints.actions import refuse, release
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.instruments.models import CertifiedValue, Verification
from reports.daily import answering
from reports.daily.actions import issue_report
from reports.daily.models import ClientWord, ReportIssue, Review
from reports.papers.actions import enter_company_head, enter_project_head
from reports.papers.models import CompanyHead, ProjectHead
from reports.verify import logs, papers
from tests.cast import MORNING, PASSWORD, Cast
from tests.holdpoints.scene import a_point
from tests.past_triggers import no_triggers, rewrite
from tests.reports.day import worked
from tests.reports.test_issue import built


@pytest.fixture
def told(cast: Cast, settings: Any, tmp_path: Path, mailoutbox: list[EmailMessage]) -> Cast:
    """A day worked, a point refused and one released, the report issued; all letters sent; the journal chained."""
    settings.VAR_DIR = tmp_path
    with transaction.atomic():
        for _ in range(12):
            journal.record("area.measured", cast.site.area, by=cast.ines, project_id=cast.site.project.pk)
    worked(cast)
    for number, kind in enumerate(("hold", "witness")):
        point = a_point(cast, kind=kind)
        signed = {"password": PASSWORD, "evidence_digest": evidence_of(point).digest}
        if number:
            refuse(cast.clara, point=point, reason="Dust on the film", **signed)
        else:
            release(cast.clara, point=point, **signed)
    chain.link()
    issue_report(cast.quinn, report=built(cast))
    # The cast's certificates were built past the actions, so the journal cannot tell of them.
    for certificate in (cast.gauge_certificate, cast.shim_certificate):
        with transaction.atomic():
            journal.record("certificate.recorded", certificate, by=cast.quinn, after={"values": [
                {"value_nm": value.value_nm, "expanded_uncertainty_nm": value.expanded_uncertainty_nm}
                for value in certificate.values.exclude(standard=None)
            ]})  # fmt: skip
    assert post.send_due() >= 3
    chain.link()
    return cast


def verify(*arguments: str) -> list[str]:
    out = StringIO()
    try:
        call_command("verify", *arguments, stdout=out)
    except SystemExit as end:
        code = end.code
    else:
        code = 0
    *lines, last = out.getvalue().splitlines()
    summary = (f"{len(lines)} differences.", 1) if lines else ("Nothing differs from what was recorded.", 0)
    assert (last, code) == summary
    return lines


def test_honest_work_has_no_differences(told: Cast) -> None:
    assert verify() == []


def test_the_head_leaves_the_house_with_each_decision_and_each_paper(
    told: Cast, mailoutbox: list[EmailMessage]
) -> None:
    numbers = {link.number: link.code for link in ChainLink.objects.all()}
    letters = [mail for mail in mailoutbox if "released" in mail.subject or "refused" in mail.subject]
    assert [mail.to for mail in letters] == [[told.clara.email]] * 2
    for mail in [*letters, *(mail for mail in mailoutbox if "issued" in mail.subject)]:
        (head,) = chain.heads_in(mail.body)
        assert numbers[head.number] == head.code
        decided = JournalEntry.objects.filter(verb__in=("holdpoint.released", "holdpoint.refused"))
        assert head.number >= max(entry.link.number for entry in decided), "the decision itself is in it"
    paper = vault.content_of(ReportIssue.objects.get().file)
    (head,) = set(chain.heads_in(paper.decode("latin-1")))
    assert numbers[head.number] == head.code
    assert verify("--head", f"{head.number}:{head.code}") == []
    assert verify("--head", f"journal head {head.number}:{'0' * 64}") == [
        f"journal: link {head.number} is not the one of the head that was given"
    ]


def cut_the_newest(many: int) -> None:
    last = list(JournalEntry.objects.order_by("-pk").values_list("pk", flat=True)[:many])
    with transaction.atomic(), no_triggers(connection):
        ChainLink.objects.filter(entry__in=last)._raw_delete("default")
        JournalEntry.objects.filter(pk__in=last)._raw_delete("default")


def raise_readings(cast: Cast) -> None:
    """Each reading, and all that was computed from them, so that a fail reads as a pass."""
    record = ThicknessRecord.objects.get()
    for reading in Reading.objects.all():
        rewrite(Reading.objects.filter(pk=reading.pk), value_nm=reading.value_nm + 30_000)
    verdict = "fail" if record.verdict == "pass" else "pass"
    rewrite(ThicknessRecord.objects.all(), verdict=verdict, result={**record.result, "verdict": verdict})


def turn_a_decision(cast: Cast) -> None:
    rewrite(Decision.objects.filter(outcome="refused"), outcome="released", reason="")
    rewrite(HoldPoint.objects.filter(state="refused"), state="released")


def rewrite_an_entry(cast: Cast) -> None:
    entry = JournalEntry.objects.filter(verb="area.measured").first()
    assert entry
    entry.reason = "another story"
    rewrite(JournalEntry.objects.filter(pk=entry.pk), reason=entry.reason, digest=journal.entry_digest(entry))


def swap_the_paper(cast: Cast) -> None:
    """Other bytes under a digest of their own, and the row that names them changed with it."""
    other = vault.store(b"%PDF-1.4 another paper", name="other.pdf", media_type="application/pdf", by=cast.quinn)
    rewrite(ReportIssue.objects.all(), file=other)


def remove_a_record(cast: Cast) -> None:
    with transaction.atomic(), no_triggers(connection):
        ClimateRecord.objects.all()._raw_delete("default")


def swap_two_entries(cast: Cast) -> None:
    one, two = ChainLink.objects.order_by("number")[:2]
    last = JournalEntry.objects.order_by("pk").last()
    assert last
    with transaction.atomic(), no_triggers(connection, "accounts_chainlink"):
        ChainLink.objects.filter(number=last.link.number)._raw_delete("default")
        ChainLink.objects.filter(number=one.number).update(entry=last)
        ChainLink.objects.create(number=last.link.number, entry=one.entry, key=two.key, code=last.link.code)


TAMPERING: list[tuple[Callable[[Cast], Any], list[str]]] = [
    (raise_readings, [r"thickness record .*readings do not match their digest", r"verdict is \w+, journal entry \d+"]),
    (turn_a_decision, [r"hold point .*decision 1 \(released\) is not what journal entry \d+ tells"]),
    (lambda cast: rewrite(HoldPoint.objects.filter(state="refused"), state="released"), [r"state is released, its"]),
    (lambda cast: rewrite(Decision.objects.filter(number=1), evidence={"record": None}), [r"evidence of decision 1"]),
    (lambda cast: cut_the_newest(10), [r"chain ends at \d+, but the head noted .* 10 entries are missing"]),
    (rewrite_an_entry, [r"journal entry \d+ .*is not what the chain holds as its number \d+"]),
    (swap_two_entries, [r"is not what the chain holds as its number 1$"]),
    (
        lambda cast: rewrite(ReportIssue.objects.all(), not_reviewed="Nobody was there"),
        [r"issued paper .*: why it was not reviewed is not what journal entry \d+ tells"],
    ),
    (swap_the_paper, [r"issued paper .*: file is \w+…, journal entry \d+ tells"]),
    (remove_a_record, [r"tells of fieldwork.climaterecord .*which is not there"]),
    (
        lambda cast: rewrite(ClimateRecord.objects.all(), surface_c=14),
        [r"climate record .*what was read does not match its digest", r"verdict is pass, what was read gives fail"],
    ),
    (lambda cast: rewrite(Verification.objects.all(), verdict="fail"), [r"verdict is fail, its readings give pass"]),
    (
        lambda cast: rewrite(CertifiedValue.objects.exclude(standard=None), value_nm=99_000),
        [r"the certified values or readings it was judged by", r"its certified values are not those of journal entry"],
    ),
]  # fmt: skip


@pytest.mark.parametrize(("tamper", "named"), TAMPERING)
def test_what_was_changed_with_the_database_in_hands_is_named(
    told: Cast, tamper: Callable[[Cast], Any], named: list[str]
) -> None:
    tamper(told)
    found = verify()
    for words in named:
        assert any(re.search(words, line) for line in found), (words, found)


def test_reviews_clients_words_and_heads_are_compared_with_the_journal(told: Cast) -> None:
    issue = ReportIssue.objects.get()
    signed = answering.sign(told.clara, issue=issue, text="Seen")
    answering.take_back(told.clara, word=signed, reason="Signed the wrong day")
    answering.comment(told.clara, issue=issue, text="Which tip?")
    enter_company_head(told.quinn, address="1 Quay Street")
    enter_project_head(told.quinn, project=told.site.project, order_number="4711", distribution="Clara")
    chain.link()
    assert verify() == []
    comments = ClientWord.objects.filter(pk=ClientWord.objects.get(what="comment").pk)
    for tamper, words in (
        (lambda: rewrite(Review.objects.all(), by=told.igor), r"review .*: by is not what journal entry \d+ tells"),
        (lambda: rewrite(Review.objects.all(), facts_digest="f" * 64), r"review .*: facts is f+…, journal entry"),
        (lambda: rewrite(comments, text="All in order"), r"client's word .*: words is not what"),
        (lambda: rewrite(comments, what="signed"), r"client's word .*: verb is not what"),
        (lambda: rewrite(comments, signed_as="Nobody, Owner One"), r"client's word .*: it is signed as Nobody"),
        (lambda: rewrite(CompanyHead.objects.all(), address="9 Other Street"), r"head of papers .*: address is 9 Oth"),
        (lambda: rewrite(ProjectHead.objects.all(), distribution=""), r"head of papers .*: distribution is "),
    ):
        tamper()
        found = list(papers.differences())
        assert any(re.search(words, line) for line in found), (words, found)
    with transaction.atomic(), no_triggers(connection):
        comments._raw_delete("default")
    assert any("tells of reports.clientword" in line for line in verify())


def test_a_cut_that_also_removes_the_noted_head_is_named_by_the_letters(told: Cast, tmp_path: Path) -> None:
    cut_the_newest(10)
    (tmp_path / "journal-head").unlink()
    assert any(re.search(r"but letter .* entries are missing", line) for line in verify())
    with transaction.atomic(), no_triggers(connection):
        Letter.objects.all()._raw_delete("default")
    (found,) = [line for line in verify() if "the chain ends" in line]
    assert "but Daily report P-1 2026-03-04 revision 1 tells of" in found
    # Where nothing in the house knows any more, who holds a letter or a paper does.
    assert any("the head that was given tells of" in line for line in verify("--head", f"9999:{'0' * 64}"))


def test_a_file_that_was_changed_is_named(told: Cast, settings: Any) -> None:
    file = StoredFile.objects.order_by("pk").first()
    assert file
    path = settings.FILES_DIR / vault.path_of(file.digest)
    content = path.read_bytes()
    try:
        path.write_bytes(b"other")
        assert any(file.digest[:12] in line for line in verify())
    finally:
        path.write_bytes(content)


def test_a_trigger_that_is_gone_is_named(told: Cast) -> None:
    on = " ON fieldwork_reading" if connection.vendor == "postgresql" else ""
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER fieldwork_reading_no_update{on}")
    assert verify() == ["trigger fieldwork_reading_no_update is missing"]


def test_keys_follow_one_another_and_a_lost_one_is_told(told: Cast, tmp_path: Path) -> None:
    first = ChainLink.objects.get(number=1).key
    out = StringIO()
    call_command("journal", "--new-key", stdout=out)
    with transaction.atomic():
        journal.record("area.measured", told.site.area, by=told.ines, project_id=told.site.project.pk)
    call_command("journal", "--chain", stdout=out)
    last = ChainLink.objects.order_by("number").last()
    assert last
    assert last.key in out.getvalue()
    assert last.key != first
    assert verify() == []
    ring = tmp_path / "keys" / "journal-chain.keys"
    assert ring.stat().st_mode & 0o777 == 0o600
    ring.write_text("".join(line for line in ring.read_text().splitlines(True) if not line.startswith(first)))
    (found,) = verify()
    assert f"links were made with key {first}, which is not in VAR_DIR/keys" in found
    assert keys.chain_key()[0] == last.key


def test_an_entry_that_was_never_chained_is_named(told: Cast) -> None:
    with transaction.atomic():
        entry = journal.record("area.measured", told.site.area, by=told.ines, project_id=told.site.project.pk)
    assert verify() == [f"journal entry {entry.pk} is not in the chain (manage.py journal --chain)"]


def test_the_samples_of_a_loggers_file_are_compared_with_the_file_they_were_read_from(cast: Cast) -> None:
    station, _ = declare_station(
        cast.ines, project=cast.site.project, code="CS-1", name="Tower", where="outdoors", areas=[cast.site.area],
        since=MORNING - timedelta(days=1),
    )  # fmt: skip
    rows = "time;air;RH;steel\n" + "".join(
        f"{MORNING + timedelta(hours=n):%Y-%m-%d %H:%M}Z;18;6{n};17\n" for n in range(3)
    )
    row, _ = store_file(cast.ines, station=station, content=rows.encode(), name="log.csv", gap_min=90)
    assert list(logs.differences()) == []
    log = unpacked(row.samples)
    dry = packed(replace(log, humidity_pct=log.humidity_pct - 20))
    rewrite(LoggerFile.objects.filter(pk=row.pk), samples=dry)
    found = list(logs.differences())
    assert len(found) == 2, found
    assert "journal entry" in found[0]
    assert found[1].endswith("its samples are not those of its file")
    rewrite(LoggerFile.objects.filter(pk=row.pk), samples=b"nothing")
    assert "its samples cannot be read" in list(logs.differences())[1]
