"""Tables by the API: looked at, told, stored and asked about as on the pages; one address for each kind."""

from __future__ import annotations

import base64
import json
from typing import Any

from django.test import Client
from django.urls import reverse

from inspection.foundation import column_units
from inspection.instruments.models import Certificate
from inspection.projects.models import InspectionArea, StoredTable, ToldTable
from inspection.works.models import PaintBatch
from tests.cast import Cast
from tests.projects.test_asked_tables import AREAS
from tests.projects.test_pages import as_person


def send(client: Client, where: str, **sent: Any) -> tuple[int, dict[str, Any]]:
    answer = client.post(where, json.dumps({"name": "a.csv", **sent}), content_type="application/json")
    return answer.status_code, answer.json()


def test_a_table_is_looked_at_told_stored_and_asked_about_when_it_comes_again(cast: Cast) -> None:
    client, where = as_person(cast.quinn), reverse("api_area_table", args=[cast.site.project.pk])
    file = {"content": base64.b64encode(AREAS.encode("latin-1")).decode()}
    status, seen = send(client, where, **file, preview=True)
    assert status == 200
    assert [each["part"] for each in seen["asked"]] == ["columns"]
    assert (seen["shape"]["head"], seen["shape"]["skipped"]) == (3, [6])
    assert seen["shape"]["columns"] == ["code", "name", "area_m2", ""]
    assert (seen["stored"], seen["rows"], seen["first_lines"][0]) == (False, 0, ["Anlage Nord"])
    # Not told, it is not stored; told, it is looked at and then stored.
    status, refused = send(client, where, **file)
    assert (status, refused["errors"][0]["field"]) == (422, "columns")
    shape = {name: seen["shape"][name] for name in ("head", "columns", "skipped")}
    status, looked = send(client, where, **file, shape=shape, preview=True)
    assert (status, looked["asked"], looked["found"]) == (200, [], "2 inspection areas")
    assert looked["notes"] == ["Columns that are not read: Farbe.", "Lines passed over: 1, 6."]
    assert not InspectionArea.objects.filter(code__startswith="N").exists()
    status, stored = send(client, where, **file, shape=shape, remember=True)
    assert (status, stored["stored"]) == (201, True)
    assert str(InspectionArea.objects.get(code="N1").area_m2) == "12.50"
    assert ToldTable.objects.get().shape["columns"] == ["code", "name", "area_m2", ""]
    # The same again is known by its head, and asked about; a change needs its reason, and is asked about too.
    status, asked = send(client, where, **file)
    assert (status, asked["errors"][0]["message"][:35]) == (428, "The same file was stored before, on")
    status, again = send(client, where, **file, confirmed=True)
    assert (status, again["told_before"], again["found"]) == (201, True, "2 inspection areas: 2 unchanged")
    assert again["stored_before"][0].endswith(f"by {cast.quinn.name}.")
    larger = {"rows": "code;area_m2\nN1;13\n"}
    status, asked = send(client, where, **larger, reason="Measured anew")
    assert (status, asked["errors"][0]["message"]) == (428, "area_m2: 12.5 → 13")
    assert send(client, where, **larger, confirmed=True)[0] == 422
    assert send(client, where, **larger, confirmed=True, reason="Measured anew")[0] == 201
    status, wrong = send(client, where, rows="code;name;area_m2\nN9;Wall;some\n")
    assert (status, wrong["errors"][0]["row"], wrong["errors"][0]["field"]) == (422, 2, "area_m2")
    for bad in ({"head": 1, "columns": ["mass"]}, {"columns": [], "sheet": 4}, {"columns": ["code", "code"]}):
        assert send(client, where, **larger, shape=bad)[0] == 422
    assert send(client, where, rows="a", content="b")[0] == 422
    assert StoredTable.objects.count() == 3
    assert send(as_person(cast.ines), where, **larger)[0] == 403
    assert send(as_person(cast.igor), where, **larger)[0] == 404


def test_batches_and_certificates_come_by_the_same_way(cast: Cast) -> None:
    client = as_person(cast.quinn)
    delivery = {"rows": "Product;Part;Lot No;Menge;Einheit;Delivered\nFilm 40;A;K-9;160;l;03/02/2026 8:30 AM\n"}
    where = reverse("api_batch_table", args=[cast.site.project.pk])
    _, seen = send(client, where, **delivery, preview=True)
    assert [each["part"] for each in seen["asked"]] == ["day_order"]
    shape = {"head": 1, "columns": seen["shape"]["columns"], "day_order": "mdy"}
    status, asked = send(client, where, **delivery, shape=shape)
    assert (status, asked["errors"][0]["row"]) == (428, 2)
    assert send(client, where, **delivery, shape=shape, confirmed=True)[0] == 201
    zone = cast.site.project.zone
    assert f"{PaintBatch.objects.get(number='K-9').received_at.astimezone(zone):%Y-%m-%d %H:%M}" == "2026-03-02 08:30"
    head = "number;laboratory;issued;expires;traceable_to;thing"
    paper = {"rows": f"{head}\nC-80;Lab A;2026-03-13;2027-03-13;SI;{cast.gauge.identity}\n"}
    assert send(client, reverse("api_certificate_table"), **paper)[0] == 201
    assert str(Certificate.objects.get(number="C-80").issued) == "2026-03-13"
    status, again = send(client, reverse("api_certificate_table"), **paper, preview=True)
    assert (status, again["faults"][0]["row"]) == (200, 2)
    assert again["stored_before"][0].startswith("The same file was stored before, on")


def test_units_in_heads_are_turned_and_what_is_written_once_is_asked_about(cast: Cast) -> None:
    client, where = as_person(cast.quinn), reverse("api_area_table", args=[cast.site.project.pk])
    rows = "Code;Name;Block;Fläche [cm²];Edges (mm);Welds, ft\nU1;Wall;North;125000;1500;10\nU2;Roof;;80000,5 cm2;;\n"
    _, seen = send(client, where, rows=rows, preview=True)
    assert [each["part"] for each in seen["asked"]] == ["blanks"]
    assert seen["shape"]["columns"] == ["code", "name", "section", "area_m2", "edges_m", "welds_m"]
    shape = {"head": 1, "columns": seen["shape"]["columns"], "blanks": "above"}
    status, stored = send(client, where, rows=rows, shape=shape)
    assert (status, stored["notes"]) == (201, [
        "1 empty cell of “Section”: taken as what stands above.", "“Fläche [cm²]” is turned from cm² into m².",
        "“Edges (mm)” is turned from mm into m.", "“Welds, ft” is turned from ft into m.",
        "Row 2, welds_m: 3.0480 is kept as 3.05.", "Row 3, area_m2: 8.00005 is kept as 8.00.",
    ])  # fmt: skip
    # The foot is 0.3048 m exactly (NIST SP 811, B.8).
    found = InspectionArea.objects.filter(code__startswith="U").order_by("code").select_related("section")
    assert [(area.section.path, str(area.area_m2), str(area.edges_m), str(area.welds_m)) for area in found] == [
        ("North", "12.50", "1.50", "3.05"), ("North", "8.00", "None", "None"),
    ]  # fmt: skip
    status, wrong = send(client, where, rows=rows.replace("125000", "12,500").replace("U", "W"), shape=shape)
    assert (status, wrong["errors"][0]["message"][:32]) == (422, "“12,500 cm²” is not a number; wr")
    # What no thing measures is told beside its row too.
    status, wrong = send(client, where, rows=rows.replace("125000", "1" + "0" * 400).replace("U", "W"), shape=shape)
    assert (status, wrong["errors"][0]["row"]) == (422, 2)
    assert column_units.in_ours("1" + "0" * 40, "c", "f") == "1" + "0" * 40
    # Where it means nothing, it stays empty.
    _, looked = send(client, where, rows=rows.replace("U", "V"), shape=shape | {"blanks": "nothing"}, preview=True)
    assert looked["notes"][0].startswith("“Fläche")
    with_value = "number;laboratory;issued;expires;traceable_to;thing;Value [mm];u (mm)\n"
    shim = cast.shims[50].identity
    paper = f"{with_value}C-81;Lab A;2026-03-13;2027-03-13;SI;{shim};0,0505;±0,0004\n"
    status, seen = send(client, reverse("api_certificate_table"), rows=paper, preview=True)
    shape = {"head": 1, "columns": [*seen["shape"]["columns"][:6], "value_um", "uncertainty_um"]}
    assert send(client, reverse("api_certificate_table"), rows=paper, shape=shape)[0] == 201
    value = Certificate.objects.get(number="C-81").values.get()
    assert (value.value_nm, value.expanded_uncertainty_nm) == (50_500, 400)


def test_what_is_too_fine_is_rounded_and_told_and_refused_only_where_it_changes_what_is_asked(cast: Cast) -> None:
    client, where = as_person(cast.quinn), reverse("api_area_table", args=[cast.site.project.pk])
    # SSPC-PA 2 asks for five spots in each area of 10 m²: a size just above it begins another.
    fine = "code;name;area_m2;edges_m\nF1;Wall;12.34567;1.23456\n"
    status, stored = send(client, where, rows=fine)
    assert (status, stored["notes"]) == (
        201, ["Row 2, area_m2: 12.34567 is kept as 12.35.", "Row 2, edges_m: 1.23456 is kept as 1.23."],
    )  # fmt: skip
    status, refused = send(client, where, rows="code;name;area_m2\nF2;Wall;10.0041\n")
    assert (status, refused["errors"][0]["row"]) == (422, 2)
    assert "another number of readings is asked" in refused["errors"][0]["message"]
    head = "number;laboratory;issued;expires;traceable_to;thing;value_um;uncertainty_um"
    paper = f"{head}\nC-82;Lab A;2026-03-13;2027-03-13;SI;{cast.shims[50].identity};50.12345;0.40001\n"
    status, stored = send(client, reverse("api_certificate_table"), rows=paper)
    assert (status, stored["notes"]) == (201, [
        "Row 2, value_um: 50.12345 is kept as 50.12300.", "Row 2, uncertainty_um: 0.40001 is kept as 0.40100.",
    ])  # fmt: skip
    value = Certificate.objects.get(number="C-82").values.get()
    assert (value.value_nm, value.expanded_uncertainty_nm) == (50_123, 401)
