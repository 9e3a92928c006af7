"""From a shim to what rests on it, and back: only what is really linked, only what the reader may see."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime
from typing import Any
from xml.etree import ElementTree as ET

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import Person
from inspection.fieldwork.actions import record_thickness
from inspection.holdpoints import actions as holdpoints
from inspection.instruments.models import Certificate, CertifiedValue
from inspection.nonconformance.models import Nonconformance
from inspection.projects.models import InspectionArea
from inspection.trace.kinds import kind_named
from inspection.trace.queries import Layer, find, rests_on, rests_on_it
from tests.cast import Cast
from tests.fieldwork.build import sent, spots
from tests.holdpoints.scene import a_point, signed, sound_record
from tests.past_triggers import rewrite
from tests.standing.scene import correct, measure, verify, withdraw
from tests.trace.scene import issued


@pytest.fixture(autouse=True)
def _days_later() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 3, 9, 12, 0, tzinfo=UTC), tick=False):
        yield


def names(layers: list[Layer]) -> dict[str, list[str]]:
    return {layer.kind.name: [node.row.title for node in layer.nodes] for layer in layers}


def up(kind: str, thing: Any, person: Person) -> dict[str, list[str]]:
    return names(rests_on_it(thing, kind_named(kind), person))


def down(kind: str, thing: Any, person: Person) -> dict[str, list[str]]:
    return names(rests_on(thing, kind_named(kind), person))


def test_from_a_shim_to_everything_that_rests_on_it(cast: Cast) -> None:
    point, _ = a_point(cast), sound_record(cast)
    holdpoints.release(cast.clara, **signed(point))
    assert up("standard", cast.shims[50], cast.quinn) == {
        "verification": ["G-01 2026-03-04 17:30", "G-01 2026-03-04 06:40"],
        "thickness": ["A1 after Primer, 2026-03-04 09:00"],
        "area": ["P-1 A1 Hatch"],
        "holdpoint": ["Primer accepted, A1"],
    }
    # A shim that was not used bears nothing.
    assert up("standard", cast.shims[500], cast.quinn) == {}
    assert down("standard", cast.shims[50], cast.quinn) == {"certificate": ["CS-1"]}


def test_from_a_hold_point_back_to_the_shims_and_their_certificates(cast: Cast) -> None:
    point, _ = a_point(cast), sound_record(cast)
    holdpoints.release(cast.clara, **signed(point))
    assert down("holdpoint", point, cast.audrey) == {
        "thickness": ["A1 after Primer, 2026-03-04 09:00"],
        "verification": ["G-01 2026-03-04 17:30", "G-01 2026-03-04 06:40"],
        "gauge": ["G-01"],
        "standard": ["S-250", "S-50"],
        "certificate": ["CS-1", "CG-1"],
    }


def test_from_a_shim_to_the_issued_reports_and_back(cast: Cast, client: Client) -> None:
    issue = issued(cast, cast.site, sound_record(cast))
    assert up("standard", cast.shims[50], cast.audrey)["report"] == ["Daily report P-1 2026-03-04 revision 1"]
    assert down("report", issue, cast.audrey)["standard"] == ["S-250", "S-50"]
    assert down("report", issue, cast.audrey)["certificate"] == ["CS-1", "CG-1"]
    client.force_login(cast.audrey)
    assert "S-250" in client.get(reverse("trace_of", args=["report", issue.pk])).content.decode()
    client.force_login(cast.igor)
    assert client.get(reverse("trace_of", args=["report", issue.pk])).status_code == 404


def test_a_certificate_leads_to_its_shims_but_not_to_what_other_certificates_of_theirs_bear(cast: Cast) -> None:
    sound_record(cast)
    newer = Certificate.objects.create(
        number="CS-2", laboratory="Example Laboratory", issued=date(2026, 3, 5), expires=date(2027, 3, 5),
        traceable_to="National institute", recorded_by=cast.quinn,
    )  # fmt: skip
    CertifiedValue.objects.create(
        certificate=newer, standard=cast.shims[50], value_nm=50_100, expanded_uncertainty_nm=900
    )
    assert up("certificate", newer, cast.quinn) == {"standard": ["S-50"]}
    assert up("certificate", cast.shim_certificate, cast.quinn)["thickness"] == ["A1 after Primer, 2026-03-04 09:00"]


def test_a_gauge_certificate_bears_only_the_checks_of_its_own_days(cast: Cast) -> None:
    sound_record(cast)
    later = Certificate.objects.create(
        number="CG-2", laboratory="Example Laboratory", issued=date(2026, 3, 5), expires=date(2027, 3, 5),
        traceable_to="National institute", recorded_by=cast.quinn,
    )  # fmt: skip
    CertifiedValue.objects.create(certificate=later, gauge=cast.gauge)
    assert up("certificate", later, cast.quinn) == {"gauge": ["G-01"]}
    assert len(up("certificate", cast.gauge_certificate, cast.quinn)["verification"]) == 2


def test_every_version_of_a_certificate_and_the_ones_above_it_belong_to_its_trace(cast: Cast) -> None:
    parent = Certificate.objects.create(
        number="CP-1", laboratory="Upper Laboratory", issued=date(2024, 1, 1), expires=date(2027, 1, 1),
        traceable_to="National institute", recorded_by=cast.quinn,
    )  # fmt: skip
    rewrite(Certificate.objects.filter(pk=cast.shim_certificate.pk), parent=parent)
    cast.shim_certificate.refresh_from_db()
    record = sound_record(cast)
    version = correct(cast, cast.shim_certificate, more_nm=100)
    assert up("certificate", version, cast.quinn)["thickness"] == ["A1 after Primer, 2026-03-04 09:00"]
    assert up("certificate", parent, cast.quinn)["thickness"] == ["A1 after Primer, 2026-03-04 09:00"]
    assert down("certificate", version, cast.quinn)["certificate"] == ["CS-1", "CP-1"]
    assert down("thickness", record, cast.audrey)["certificate"] == ["CS-1", "CG-1", "CP-1"]


def test_the_auditor_sees_only_what_their_projects_rest_on(cast: Cast) -> None:
    sound_record(cast)
    foreign = measure(cast, "10:00", "10:30", site=cast.foreign)
    verify(cast, "05:00", site=cast.foreign, shims=(125, 500))
    assert up("standard", cast.shims[50], cast.audrey)["thickness"] == ["A1 after Primer, 2026-03-04 09:00"]
    assert len(up("standard", cast.shims[50], cast.quinn)["thickness"]) == 2
    assert find("thickness", foreign.pk, cast.audrey) is None
    assert find("standard", cast.shims[500].pk, cast.audrey) is None
    assert find("standard", cast.shims[50].pk, cast.audrey) is not None


def test_a_check_made_for_another_project_is_seen_where_an_own_record_rests_on_it(cast: Cast) -> None:
    opening = verify(cast, "06:40", site=cast.foreign)
    record = measure(cast, "09:00", "09:40")
    other = verify(cast, "05:00", site=cast.foreign)
    assert find("verification", opening.pk, cast.audrey) is not None
    assert find("verification", other.pk, cast.audrey) is None
    assert down("thickness", record, cast.audrey)["verification"] == ["G-01 2026-03-04 06:40"]


@pytest.mark.parametrize(
    ("kind", "of"),
    [("standard", "shim"), ("certificate", "paper"), ("gauge", "gauge"), ("thickness", "record"), ("area", "area"),
     ("verification", "check"), ("holdpoint", "point")],
)  # fmt: skip
def test_every_kind_has_a_page_and_a_drawing(cast: Cast, client: Client, kind: str, of: str) -> None:
    point, record = a_point(cast), sound_record(cast)
    things = {
        "shim": cast.shims[50], "paper": cast.shim_certificate, "gauge": cast.gauge, "record": record,
        "area": cast.site.area, "check": _opening(record), "point": point,
    }  # fmt: skip
    client.force_login(cast.audrey)
    page = client.get(reverse("trace_of", args=[kind, things[of].pk]))
    assert page.status_code == 200
    assert "What rests on it" in page.content.decode()
    for query in ("", "?tall"):
        drawing = client.get(reverse("trace_drawing", args=[kind, things[of].pk]) + query)
        assert drawing["Content-Type"] == "image/svg+xml"
        assert b"style=" not in drawing.content
        assert ET.fromstring(drawing.content).tag.endswith("svg")
    client.force_login(cast.clara)
    assert client.get(reverse("trace_of", args=[kind, things[of].pk])).status_code == 403


def _opening(record: Any) -> Any:
    from inspection.standing.models import Standing

    return Standing.objects.get(record=record).opening


def test_search_finds_by_identity_number_area_and_id(cast: Cast, client: Client) -> None:
    record = sound_record(cast)
    client.force_login(cast.audrey)
    for words, found in (("S-250", "S-250"), ("cs-1", "CS-1"), ("A1", "Hatch"), (str(record.pk), "after Primer")):
        assert found in client.get(reverse("trace"), {"words": words}).content.decode()
    assert "Nothing of yours is called" in client.get(reverse("trace"), {"words": "S-500"}).content.decode()


def test_a_trace_takes_as_many_queries_for_thirty_records_as_for_three(cast: Cast, client: Client) -> None:
    client.force_login(cast.audrey)
    verify(cast, "06:40")
    verify(cast, "17:30")
    counts = []
    for many in (3, 27):
        for _ in range(many):
            measure(cast, "09:00", "09:40")
        for name in ("trace_of", "trace_drawing"):
            with CaptureQueriesContext(connection) as queries:
                assert client.get(reverse(name, args=["standard", cast.shims[50].pk])).status_code == 200
            counts.append(len(queries))
    # Past the newest few of a kind, one count more.
    assert counts[2] <= counts[0] + 1
    assert counts[3] <= counts[1] + 1
    everything = reverse("trace_all", args=["standard", cast.shims[50].pk, "up", "thickness"])
    page = client.get(everything).content.decode()
    assert page.count("after Primer, 2026-03-04 09:00</a>") == 30


def test_foreign_things_and_unknown_kinds_are_not_found(cast: Cast, client: Client) -> None:
    record = sound_record(cast)
    client.force_login(cast.igor)
    assert client.get(reverse("trace_of", args=["thickness", record.pk])).status_code == 404
    client.force_login(cast.audrey)
    assert client.get(reverse("trace_of", args=["nothing", record.pk])).status_code == 404
    assert client.get(reverse("trace_all", args=["thickness", record.pk, "sideways", "gauge"])).status_code == 404


@pytest.mark.parametrize(
    "words", ["P-1-20260304", "p-1-20260304", "P-1-20260304 · Revision 1", "Daily report P-1 2026-03-04 revision 1"]
)
def test_a_report_is_found_by_the_number_on_its_pages(cast: Cast, client: Client, words: str) -> None:
    issue = issued(cast, cast.site, sound_record(cast))
    client.force_login(cast.audrey)
    page = client.get(reverse("trace"), {"words": words}).content.decode()
    assert reverse("trace_of", args=["report", issue.pk]) in page


@pytest.mark.parametrize("words", ["P-1-20260305", "P-1-20269999", "P-1-20260304 revision 7", "P-2-20260304"])
def test_another_report_number_finds_nothing(cast: Cast, client: Client, words: str) -> None:
    issue = issued(cast, cast.site, sound_record(cast))
    client.force_login(cast.audrey)
    page = client.get(reverse("trace"), {"words": words}).content.decode()
    assert reverse("trace_of", args=["report", issue.pk]) not in page


@pytest.mark.parametrize("words", ["NC-001", "nc-1", "NC 1", "P-1 NC-001", "does not meet"])
def test_a_nonconformance_is_found_by_its_number_and_leads_to_the_measurement(
    cast: Cast, client: Client, words: str
) -> None:
    verify(cast, "06:40")
    record, _ = record_thickness(cast.ines, **sent(cast, readings=spots(*[[40, 41, 42]] * 5)))
    nonconformance = Nonconformance.objects.get()
    client.force_login(cast.audrey)
    address = reverse("trace_of", args=["nonconformance", nonconformance.pk])
    assert address in client.get(reverse("trace"), {"words": words}).content.decode()
    assert reverse("trace_of", args=["thickness", record.pk]) in client.get(address).content.decode()
    assert up("thickness", record, cast.audrey)["nonconformance"] == [f"P-1 {nonconformance}"]
    assert client.get(reverse("trace"), {"words": "P-2 NC-001"}).content.decode().count(address) == 0
    client.force_login(cast.igor)
    assert address not in client.get(reverse("trace"), {"words": words}).content.decode()
    assert client.get(address).status_code == 404


def test_a_corrected_version_stands_on_one_side_only(cast: Cast) -> None:
    second = correct(cast, cast.shim_certificate, more_nm=100)
    third = correct(cast, second, more_nm=200)

    def sides(paper: Certificate) -> tuple[set[Any], set[Any]]:
        kind = kind_named("certificate")
        assert kind is not None
        below, above = rests_on(paper, kind, cast.quinn), rests_on_it(paper, kind, cast.quinn)
        return tuple(
            {node.pk for layer in layers if layer.kind is kind for node in layer.nodes} for layers in (below, above)
        )

    first = cast.shim_certificate
    assert sides(first) == (set(), {second.pk, third.pk})
    assert sides(second) == ({first.pk}, {third.pk})
    assert sides(third) == ({first.pk, second.pk}, set())


def test_a_withdrawn_certificate_leads_to_reinstating_and_a_replaced_one_offers_no_recall(
    cast: Cast, client: Client
) -> None:
    client.force_login(cast.quinn)
    withdraw(cast, cast.gauge_certificate)
    recall = reverse("recall", args=[cast.gauge_certificate.pk])
    for name, args in (("trace_of", ["certificate"]), ("certificate", [])):
        page = client.get(reverse(name, args=[*args, cast.gauge_certificate.pk])).content.decode()
        assert re.search(rf'href="{recall}">Reinstate', page)
    assert "Take the withdrawal back" in client.get(recall).content.decode()
    correct(cast, cast.shim_certificate, more_nm=100)
    page = client.get(reverse("trace_of", args=["certificate", cast.shim_certificate.pk])).content.decode()
    assert reverse("recall", args=[cast.shim_certificate.pk]) not in page


def test_boxes_of_a_drawing_can_be_told_apart_where_names_are_long(cast: Cast, client: Client) -> None:
    InspectionArea.objects.filter(pk=cast.site.area.pk).update(code="BALLASTTANK-4P-ØVRE-DØRK-SPANT-112-SÜLLRAND")
    for hour in (9, 10, 11):
        measure(cast, f"{hour}:00", f"{hour}:30")
    client.force_login(cast.audrey)
    drawing = client.get(reverse("trace_drawing", args=["gauge", cast.gauge.pk])).content
    texts = [text for text in ET.fromstring(drawing).iter("{http://www.w3.org/2000/svg}text") if len(text)]
    names = [[str(line.text) for line in text] for text in texts]
    assert {tail for _, tail in (name for name in names if len(name) == 2)} >= {
        f"…RAND 03-04 {clock}" for clock in ("09:00", "10:00", "11:00")
    }
    assert all(len(line) <= 17 for name in names for line in name)
