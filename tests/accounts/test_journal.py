"""The journal as its readers meet it, and the check that it was not altered."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext

from accounts import actions, journal
from accounts.models import JournalEntry
from tests.cast import PASSWORD, Cast


def entries(cast: Cast) -> list[JournalEntry]:
    with transaction.atomic():
        return [
            journal.record("area.measured", cast.site.area, by=cast.ines, project_id=cast.site.project.pk),
            journal.record("area.painted", cast.foreign.other_area, by=cast.igor, project_id=cast.foreign.project.pk),
            journal.record(
                "gauge.moved", cast.gauge, by=cast.quinn, before={"holder": None}, after={"holder": cast.ines},
                reason="shift change",
            ),
        ]  # fmt: skip


def alter(entry: JournalEntry) -> None:
    """What somebody with the database in their hands could do: take the trigger out of the way, and change."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET LOCAL session_replication_role = replica")
        else:
            cursor.execute("DROP TRIGGER accounts_journalentry_no_update")
        cursor.execute("UPDATE accounts_journalentry SET reason = 'another story' WHERE id = %s", [entry.pk])
        if connection.vendor == "postgresql":
            cursor.execute("SET LOCAL session_replication_role = origin")


def test_the_quality_manager_reads_all_and_the_auditor_their_projects(cast: Cast, client: Client) -> None:
    entries(cast)
    client.force_login(cast.quinn)
    page = client.get("/journal/").content.decode()
    assert all(verb in page for verb in ("Area measured", "Area painted", "Gauge moved"))
    assert "All 3 entries on this page match their digests." in page
    client.force_login(cast.audrey)
    page = client.get("/journal/").content.decode()
    assert "Area measured" in page
    assert "Area painted" not in page
    assert "Gauge moved" not in page


def test_an_entry_shows_before_and_after_and_why(cast: Cast, client: Client) -> None:
    entry = entries(cast)[2]
    client.force_login(cast.quinn)
    page = client.get(f"/journal/{entry.pk}/").content.decode()
    for words in ("Gauge moved", "holder", str(cast.ines.pk), "shift change", "Matches the entry", entry.digest):
        assert words in page
    assert client.get("/journal/99999999999999999999999/").status_code == 404


def test_the_journal_is_filtered_by_project_verb_and_person(cast: Cast, client: Client) -> None:
    entries(cast)
    client.force_login(cast.quinn)
    for query, shown in (
        ({"project": str(cast.foreign.project.pk)}, "Area painted"),
        ({"verb": "area measured"}, "Area measured"),
        ({"who": "quinn"}, "Gauge moved"),
    ):
        page = client.get("/journal/", query).content.decode()
        assert [verb for verb in ("Area measured", "Area painted", "Gauge moved") if verb in page] == [shown]
    nonsense = client.get("/journal/", {"project": "no-id", "before": "x", "verb": "\x01"})
    assert nonsense.status_code == 200


def test_older_entries_are_one_link_away_in_a_steady_number_of_queries(cast: Cast, client: Client) -> None:
    client.force_login(cast.quinn)
    counts = []
    for many in (3, 117):
        with transaction.atomic():
            for _ in range(many):
                journal.record("area.measured", cast.site.area, by=cast.ines, project_id=cast.site.project.pk)
        with CaptureQueriesContext(connection) as asked:
            client.get("/journal/")
        counts.append(len(asked))
    assert counts[0] == counts[1]
    seen: list[str] = []
    address = "/journal/"
    while address:
        page = client.get(address).content.decode()
        seen += [part.split("/")[0] for part in page.split('<th scope="row"><a href="/journal/')[1:]]
        link = page.partition('aria-label="Pages"><a href="')[2].partition('"')[0].replace("&amp;", "&")
        address = f"/journal/{link}" if link else ""
    assert len(seen) == len(set(seen)) == 120
    assert [int(pk) for pk in seen] == sorted((int(pk) for pk in seen), reverse=True)


def test_the_check_passes_over_what_the_actions_wrote(cast: Cast) -> None:
    entries(cast)
    actions.make_token(cast.ines, name="laptop", days=3)
    _, token = actions.invite(cast.admin, email="n@example.com", name="N", organisation=cast.company, role="inspector")
    actions.accept_invitation(token=token, password=PASSWORD)
    out = StringIO()
    call_command("journal", "--check", stdout=out)
    assert out.getvalue() == f"All {JournalEntry.objects.count()} entries match their digests.\n"


def test_a_moment_given_in_another_zone_is_kept_in_utc_and_still_matches(cast: Cast) -> None:
    there = datetime(2026, 3, 4, 9, 30, tzinfo=timezone(timedelta(hours=2)))
    with transaction.atomic():
        entry = journal.record("area.measured", cast.site.area, by=cast.ines, at=there)
    read = JournalEntry.objects.get(pk=entry.pk)
    assert read.at == datetime(2026, 3, 4, 7, 30, tzinfo=UTC)
    assert not journal.altered(read)


def test_an_entry_changed_past_the_triggers_is_found_and_the_check_fails(cast: Cast, client: Client) -> None:
    entry = entries(cast)[1]
    alter(entry)
    err = StringIO()
    with pytest.raises(CommandError, match="1 of 3 entries do not match"):
        call_command("journal", "--check", stderr=err)
    assert f"entry {entry.pk} " in err.getvalue()
    client.force_login(cast.quinn)
    assert "does not match its digest" in client.get("/journal/").content.decode()
    assert "Does not match the entry" in client.get(f"/journal/{entry.pk}/").content.decode()


def test_a_stranger_to_the_journal_is_refused(cast: Cast, client: Client) -> None:
    entry = entries(cast)[0]
    for stranger in (cast.ines, cast.clara, cast.admin):
        client.force_login(stranger)
        assert client.get("/journal/").status_code == 403
        assert client.get(f"/journal/{entry.pk}/").status_code == 403
    client.force_login(cast.audrey)
    foreign = entries(cast)[1]
    assert client.get(f"/journal/{foreign.pk}/").status_code == 404
