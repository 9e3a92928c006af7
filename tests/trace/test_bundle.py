"""The evidence bundle, opened and checked with the tools its README names, and nothing of this platform.

Sources: the terms are those of PROV-O (W3C Recommendation, 30 April 2013, section 3.1 "Starting Point Terms" and 3.2
"Expanded Terms": Entity, Agent, Person, wasDerivedFrom, wasAttributedTo, generatedAtTime, wasRevisionOf, atLocation;
from memory). Signature and digests are checked by OpenSSL and coreutils.
"""

from __future__ import annotations

import io
import json
import re
import shutil
import stat
import subprocess
import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.conf import settings
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from accounts import vault
from accounts.keys import public_pem
from inspection.fieldwork.actions import record_thickness
from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.models import Reading
from inspection.instruments.models import Certificate
from inspection.nonconformance import actions as nonconformance
from inspection.nonconformance.models import Nonconformance
from inspection.trace import figures, weighing
from tests.cast import PASSWORD, Cast
from tests.fieldwork.build import sent, spots
from tests.holdpoints.scene import a_point, reworked, sound_record
from tests.past_triggers import rewrite
from tests.standing.scene import measure, verify
from tests.trace.scene import issued

PROV = "http://www.w3.org/ns/prov#"
TERMS = {"wasDerivedFrom", "wasAttributedTo", "wasRevisionOf", "generatedAtTime", "atLocation"}


@pytest.fixture(autouse=True)
def _days_later() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 3, 9, 12, 0, tzinfo=UTC), tick=False):
        yield


def unpacked(client: Client, folder: Path, kind: str, pk: Any) -> Path:
    answer = client.get(reverse("trace_bundle", args=[kind, pk]))
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        assert archive.testzip() is None
        archive.extractall(folder)
    return folder


def check(folder: Path, *command: str) -> bool:
    return subprocess.run(command, cwd=folder, capture_output=True, check=False).returncode == 0


def commands(folder: Path) -> list[list[str]]:
    """The commands as README.txt gives them."""
    lines = (folder / "README.txt").read_text().splitlines()
    return [line.split() for line in lines if line.startswith("    ")]


@pytest.fixture
def bundle(cast: Cast, client: Client, tmp_path: Path) -> Path:
    """Of an issued report over one measurement, whose shim certificate has a file."""
    file = vault.store(b"%PDF-1.4 certificate", name="cs-1.pdf", media_type="application/pdf", by=cast.quinn)
    rewrite(Certificate.objects.filter(pk=cast.shim_certificate.pk), file=file)
    issue = issued(cast, cast.site, sound_record(cast))
    client.force_login(cast.audrey)
    return unpacked(client, tmp_path, "report", issue.pk)


def test_the_commands_of_the_readme_check_digests_and_signature(bundle: Path) -> None:
    digests, signature = commands(bundle)
    assert check(bundle, *digests)
    assert check(bundle, *signature)
    assert (bundle / "public-key.pem").read_bytes() == public_pem()


@pytest.mark.parametrize("altered", ["provenance.jsonld", "evidence.pdf", "README.txt", "public-key.pem"])
def test_an_altered_file_is_found(bundle: Path, altered: str) -> None:
    digests, _ = commands(bundle)
    (bundle / altered).write_bytes((bundle / altered).read_bytes() + b" ")
    assert not check(bundle, *digests)


def test_altered_digests_do_not_match_the_signature(bundle: Path) -> None:
    _, signature = commands(bundle)
    sums = bundle / "SHA256SUMS"
    sums.write_text(sums.read_text().replace("a", "b", 1))
    assert not check(bundle, *signature)


def test_everything_but_the_sums_themselves_is_summed(bundle: Path) -> None:
    listed = {line.split("  ")[1] for line in (bundle / "SHA256SUMS").read_text().splitlines()}
    there = {str(path.relative_to(bundle)) for path in bundle.rglob("*") if path.is_file()}
    assert there - listed == {"SHA256SUMS", "SHA256SUMS.sig"}


def test_the_provenance_leads_from_the_report_to_the_certificates_in_terms_of_prov(cast: Cast, bundle: Path) -> None:
    document = json.loads((bundle / "provenance.jsonld").read_text())
    assert document["@context"]["prov"] == PROV
    context = document["@context"]
    assert {
        name for name in TERMS if (context[name] if isinstance(context[name], str) else context[name]["@id"])
    } == TERMS
    graph = {node["@id"]: node for node in document["@graph"]}
    assert {node["@type"] for node in graph.values() if isinstance(node["@type"], str)} == {"prov:Entity"}
    (report,) = [node for node in graph.values() if node.get("prov:type") == "report"]
    reached, newest = set(), {report["@id"]}
    while newest:
        reached |= newest
        newest = {below for node in newest for below in graph[node].get("wasDerivedFrom", [])} - reached
    assert {graph[node]["label"] for node in reached} >= {"CS-1", "CG-1", "S-50", "S-250", "G-01"}
    for node in graph.values():
        if node["@type"] == "prov:Entity":
            assert (bundle / node["atLocation"]).is_file()
        for agent in [node["wasAttributedTo"]] if "wasAttributedTo" in node else []:
            assert graph[agent]["@type"] == ["prov:Agent", "prov:Person"]


def test_records_hold_every_reading_and_files_are_as_stored(cast: Cast, bundle: Path) -> None:
    (path,) = (bundle / "records" / "thickness").iterdir()
    record = json.loads(path.read_text())
    stored = Reading.objects.filter(record=record["id"]).order_by("spot")
    assert [row[2] for row in record["readings"]] == [reading.value_nm for reading in stored]
    assert record["standing"]["state"] == "sound"
    digest = Certificate.objects.get(pk=cast.shim_certificate.pk).file_id
    assert (bundle / "files" / str(digest)).read_bytes() == b"%PDF-1.4 certificate"


def test_the_pdf_reads_without_the_rest(bundle: Path) -> None:
    text = "\n".join(page.extract_text() for page in PdfReader(bundle / "evidence.pdf").pages)
    for words in ("Evidence for issued report Daily report P-1", "Audrey Auditor", "A1 after Primer", "CS-1", "S-250"):
        assert words in text
    # The figures: what was certified, how far the gauge was off, what was read and held against which limit.
    flat = " ".join(text.split())
    assert "The Company, made" in flat
    assert "The Company" in (bundle / "README.txt").read_text()
    assert "S-50: 50.2 µm, expanded uncertainty 1.00 µm (k = 2)" in flat
    assert re.search(
        r"S-50, certified 50\.2 µm: readings [\d. ]+; error [+-]\d\.\d\d µm, tolerance ±\d\.\d\d µm: pass", flat
    )
    assert re.search(r"Readings by spot, in µm: 90\.0", flat)


def test_the_figures_of_a_measurement_are_every_check_and_every_reading(cast: Cast) -> None:
    readings = spots([80, 82, 81], [45, 46, 47], [90, 91, 92], [70, 69, 71], [85, 84, 86])
    record, _ = record_thickness(cast.ines, **sent(cast, readings=readings))
    lines = figures.thickness(record)
    assert "Limit 48 µm, observed 46 µm: fail" in " ".join(lines)
    assert lines[-1].endswith("80.0 82.0 81.0; 45.0 46.0 47.0; 90.0 91.0 92.0; 70.0 69.0 71.0; 85.0 84.0 86.0")


@pytest.mark.parametrize("many", [1, 120, 300, 3_000])
def test_an_area_has_its_bundle_however_many_readings_one_record_has(
    cast: Cast, client: Client, tmp_path: Path, many: int
) -> None:
    """SSPC-PA 2 is judged area by area of five spots: 3,000 readings are 200 areas of four conditions each."""
    verify(cast, "06:40")
    readings = [ReadingSent(n // 3 + 1, n % 3 + 1, 85_000 + n % 7 * 1_000) for n in range(many)]
    if many == 3_000:
        # The eleventh area, all of it too thin.
        readings[150:165] = [reading._replace(value_nm=30_000 + n) for n, reading in enumerate(readings[150:165])]
    record, _ = record_thickness(cast.ines, **sent(cast, readings=readings))
    verify(cast, "17:30")
    client.force_login(cast.audrey)
    page = client.get(reverse("trace_of", args=["area", cast.site.area.pk])).content.decode()
    assert re.search(rf"holds \d+ things with {many} reading", page)
    assert re.search(r"about [\d.,]+.KB, made in about \d seconds?\.", page)
    folder = unpacked(client, tmp_path, "area", cast.site.area.pk)
    stored = json.loads((folder / "records" / "thickness" / f"{record.pk}.json").read_text())
    assert [row[:3] for row in stored["readings"]] == [list(reading[:3]) for reading in readings]
    text = " ".join(" ".join(page.extract_text() for page in PdfReader(folder / "evidence.pdf").pages).split())
    assert ("Readings by spot, in µm:" in text) == (many <= 300)
    if many == 3_000:
        assert "3000 readings, in µm: mean 87.7, lowest 30.0, highest 91.0." in text
        assert "Limit 48 µm: fail, met in 199 of 200 places, each in its JSON. Not met in area 11 (30 µm)." in text


def test_what_is_too_much_for_a_bundle_is_said_beforehand_and_refused(
    cast: Cast, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    record = sound_record(cast)
    many = Reading.objects.filter(record=record).count()
    client.force_login(cast.audrey)
    page, bundle = (reverse(name, args=["area", cast.site.area.pk]) for name in ("trace_of", "trace_bundle"))
    for bound, most, words in (
        ("MOST_READINGS", many - 1, f"{many} readings stand under this one, more than the {many - 1}"),
        ("MOST_THINGS", 2, "more than 2 things stand under this one"),
    ):
        with monkeypatch.context() as patch:
            patch.setattr(weighing, bound, most)
            shown = client.get(page).content.decode()
            assert f"No evidence bundle: {words}" in shown
            assert bundle not in shown
            refused = client.get(bundle)
            assert refused.status_code == 422
            assert words in refused.content.decode()
    assert client.get(bundle).status_code == 200


def test_records_that_do_not_fit_into_memory_together_come_one_after_another(
    cast: Cast, client: Client, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(weighing, "A_BATCH", 1)
    records = [sound_record(cast), measure(cast, "10:00", "10:40")]
    client.force_login(cast.audrey)
    folder = unpacked(client, tmp_path, "area", cast.site.area.pk)
    there = {path.stem for path in (folder / "records" / "thickness").iterdir()}
    assert there == {str(record.pk) for record in records}


def test_a_file_altered_in_the_store_is_not_signed(cast: Cast, client: Client) -> None:
    file = vault.store(b"%PDF-1.4 other", name="cs-1.pdf", media_type="application/pdf", by=cast.quinn)
    rewrite(Certificate.objects.filter(pk=cast.shim_certificate.pk), file=file)
    record = sound_record(cast)
    (Path(settings.FILES_DIR) / vault.path_of(file.digest)).write_bytes(b"forged")
    client.force_login(cast.audrey)
    answer = client.get(reverse("trace_bundle", args=["thickness", record.pk]))
    assert answer.status_code == 422
    assert "no longer matches its digest" in answer.content.decode()


def test_the_key_is_made_once_and_readable_by_nobody_else() -> None:
    shutil.rmtree(Path(settings.VAR_DIR) / "keys", ignore_errors=True)
    first = public_pem()
    path = Path(settings.VAR_DIR) / "keys" / "evidence-ed25519.pem"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert public_pem() == first
    assert b"PRIVATE" not in first


def test_a_bundle_takes_as_many_queries_for_more_records(cast: Cast, client: Client) -> None:
    client.force_login(cast.audrey)
    point = a_point(cast)
    sound_record(cast)
    taken = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as queries:
            client.get(reverse("trace_bundle", args=["holdpoint", point.pk]))
        taken.append(len(queries))
        for _ in range(6):
            measure(cast, "09:00", "09:40")
    assert taken[0] == taken[1]


def test_the_bundle_of_a_nonconformance_holds_what_was_done_and_who_conceded_it(
    cast: Cast, client: Client, tmp_path: Path
) -> None:
    measure(cast, "09:00", "09:40", verdict="fail")
    raised = Nonconformance.objects.get()
    reworked(cast, raised, "15:00", what="Third coat")
    cast.clara.admission = "invited by Quinn Quality, confirmed by Owner One"
    nonconformance.concede(cast.clara, nonconformance=raised, reason="Sealed over", password=PASSWORD)
    client.force_login(cast.audrey)
    folder = unpacked(client, tmp_path, "nonconformance", raised.pk)
    (told,) = (json.loads(path.read_text()) for path in folder.rglob("*.json") if str(raised.pk) in path.name)
    done, given = told["dispositions"]
    assert (done["kind"], done["text"], done["done_by"]) == ("rework", "Third coat", "Painters, crew 2")
    assert (given["kind"], given["signed_as"], given["admitted"]) == (
        "concession", "Clara Client, Owner One", cast.clara.admission,
    )  # fmt: skip
    read = subprocess.run(["pdftotext", "evidence.pdf", "-"], cwd=folder, capture_output=True, check=True, text=True)
    assert "(invited by Quinn Quality, confirmed by Owner One): Sealed over" in " ".join(read.stdout.split())


def test_strangers_get_no_bundle(cast: Cast, client: Client) -> None:
    record = sound_record(cast)
    address = reverse("trace_bundle", args=["thickness", record.pk])
    client.force_login(cast.igor)
    assert client.get(address).status_code == 404
    client.force_login(cast.clara)
    assert client.get(address).status_code == 403
