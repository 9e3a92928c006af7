"""Every shape a fair table comes in, for every kind of table: told where it must be, stored, and a value looked at.

Each goes the way of a sender: it is looked at, what is asked is answered, and then it is stored. What a kind of table
cannot take is asked or refused, and nothing is kept of it.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import pairwise
from typing import Any

import pytest
from django.urls import reverse

from inspection.fieldwork.climate.models import LoggerFile
from inspection.fieldwork.climate.samples import unpacked
from inspection.fieldwork.models import ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.instruments.models import Certificate
from inspection.projects.models import InspectionArea, Station
from inspection.works.models import PaintBatch
from tests.cast import Cast
from tests.fieldwork.test_fair_tables import book, ods
from tests.fieldwork.test_stations import a_station
from tests.projects.test_pages import as_person

# Reading a table is the same on every database.
pytestmark = pytest.mark.once
Grid = list[list[str]]


@dataclass(frozen=True)
class Kind:
    """A kind of table: its rows under `columns`, the heads that say them, and what storing the rows gives."""

    columns: tuple[str, ...]
    heads: tuple[str, ...]
    rows: Callable[[str], Grid]
    expected: Callable[[str], Any]
    stored: Callable[[], Any]
    where: Callable[[Cast, Station], str]
    sent: Callable[[Cast], dict[str, Any]] = lambda _: {}
    # The column with a day, that with a time, that which is written once for several rows, by place.
    day: int | None = None
    clock: int | None = None
    once: int | None = None
    told: dict[str, Any] = field(default_factory=dict)


def readings_stored() -> Any:
    record = ThicknessRecord.objects.order_by("-received_at", "-pk")[0]
    rows = record.readings.order_by("spot", "order")
    return record.taken_at, [(row.spot, row.value_nm) for row in rows]


def thickness_sent(cast: Cast) -> dict[str, Any]:
    site = cast.site
    return {
        "id": str(new_id()), "project": str(site.project.pk), "area": str(site.area.pk),
        "coat": str(site.coats[0].pk), "gauge": str(cast.gauge.pk), "profile_way": "adjusted",
    }  # fmt: skip


def areas_stored() -> Any:
    rows = InspectionArea.objects.order_by("-pk").select_related("section")[:2]
    return [(row.code, row.section.path if row.section else "", str(row.area_m2)) for row in reversed(rows)]


def samples_stored() -> Any:
    row = LoggerFile.objects.order_by("-received_at", "-pk")[0]
    log = unpacked(row.samples)
    return row.first_at, [float(each) for each in log.air_c]


def batches_stored() -> Any:
    rows = PaintBatch.objects.order_by("-pk")[:2]
    return [(row.number, str(row.received.normalize()), row.received_at) for row in reversed(rows)]


def certificates_stored() -> Any:
    row = Certificate.objects.order_by("-pk")[0]
    return row.number, row.issued.isoformat(), [value.value_nm for value in row.values.order_by("value_nm")]


AT, LATER = datetime(2026, 3, 4, 14, 5, tzinfo=UTC), "2026-03-04 14:15"
KINDS = {
    "readings": Kind(
        ("spot", "thickness", "time"), ("Spot No", "DFT [µm]", "Time"),
        lambda _: [["1", "84,5", "2026-03-04 14:05"], ["1", "85,25", "2026-03-04 14:10"], ["2", "79,9", LATER]],
        lambda _: (AT, [(1, 84_500), (1, 85_250), (2, 79_900)]), readings_stored,
        lambda *_: reverse("api_thickness_file"), thickness_sent, clock=2, once=0, told={"unit": "um"},
    ),
    "areas": Kind(
        ("section", "code", "name", "area_m2"), ("Abschnitt", "Code", "Name", "Fläche m²"),
        lambda mark: [["Deck", f"{mark}1", "Wall", "12,5"], ["Deck", f"{mark}2", "Wänd", "8,25"]],
        lambda mark: [(f"{mark}1", "Deck", "12.50"), (f"{mark}2", "Deck", "8.25")], areas_stored,
        lambda cast, _: reverse("api_area_table", args=[cast.site.project.pk]), once=0,
    ),
    "batches": Kind(
        ("product", "component", "number", "received", "unit", "received_at"),
        ("Product", "Component", "Charge", "Menge", "Unit", "Received on"),
        lambda mark: [["Film 40", "A", f"{mark}1", "160,5", "l", "2026-03-04 14:05"],
                      ["Film 40", "A", f"{mark}2", "20", "l", LATER]],
        lambda mark: [(f"{mark}1", "160.5", AT), (f"{mark}2", "2E+1", datetime(2026, 3, 4, 14, 15, tzinfo=UTC))],
        batches_stored, lambda cast, _: reverse("api_batch_table", args=[cast.site.project.pk]), clock=5, once=0,
    ),
    "certificates": Kind(
        ("number", "laboratory", "issued", "expires", "traceable_to", "thing", "value_um", "uncertainty_um"),
        ("Cert No", "Lab", "Date", "Valid until", "Traceable to", "Standard", "Value [µm]", "Uncertainty µm"),
        lambda mark: [[mark, "Labor Süd", "2026-03-04", "2027-03-04", "SI", "S-50", "50,25", "0,4"],
                      [mark, "Labor Süd", "2026-03-04", "2027-03-04", "SI", "S-125", "125,5", "0,4"]],
        lambda mark: (mark, "2026-03-04", [50_250, 125_500]), certificates_stored,
        lambda *_: reverse("api_certificate_table"), day=2, once=0,
    ),
    "logger files": Kind(
        ("time", "air_c", "humidity_pct"), ("Time", "Air °C", "Luftfeuchte %"),
        lambda _: [["2026-03-04 14:05", "7,5", "61,5"], ["2026-03-04 14:10", "7,25", "60"], [LATER, "8", "59"]],
        lambda _: (AT, [7.5, 7.25, 8.0]), samples_stored,
        lambda _, station: reverse("api_logger_file_add", args=[station.pk]),
        lambda _: {"gap_min": 30}, clock=0,
    ),
}  # fmt: skip


# --- the shapes -------------------------------------------------------------------------------------------------------
def text(grid: Grid, separator: str = ";", encoding: str = "utf-8", above: str = "") -> bytes:
    return (above + "\n".join(separator.join(row) for row in grid) + "\n").encode(encoding)


def pointed(grid: Grid) -> Grid:
    return [grid[0], *([cell.replace(",", ".") for cell in row] for row in grid[1:])]


def fixed(grid: Grid) -> bytes:
    widths = [max(len(row[place]) for row in grid) + 3 for place in range(len(grid[0]))]
    return text([["".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))] for row in grid])


def cells(grid: Grid) -> list[tuple[object, ...]]:
    """As a workbook holds them: figures as figures."""

    def held(cell: str) -> object:
        try:
            return float(cell.replace(",", "."))
        except ValueError:
            return cell

    return [tuple(grid[0]), *(tuple(map(held, row)) for row in grid[1:])]


def moments(grid: Grid, place: int, write: Callable[[datetime], str]) -> Grid:
    rows = ([*row] for row in grid[1:])
    found = [grid[0]]
    for row in rows:
        row[place] = write(datetime.fromisoformat(row[place]))
        found.append(row)
    return found


def days_of(kind: Kind, form: str) -> Callable[[Grid], bytes]:
    def made(grid: Grid) -> bytes:
        # Beside the day on which a paper was issued stands the one on which it expires.
        days = [kind.day, kind.day + 1] if kind.day is not None else []
        for place in (*days, *([kind.clock] if kind.clock is not None else [])):
            grid = moments(grid, place, lambda at: at.strftime(form))
        return text(grid)

    return made


def emptied(grid: Grid, place: int) -> Grid:
    """What is written once: below the same it is left empty."""
    rows = [grid[0], grid[1]]
    for above, row in pairwise(grid[1:]):
        rows.append([("" if at == place and cell == above[place] else cell) for at, cell in enumerate(row)])
    return rows


@dataclass(frozen=True)
class Shape:
    """How the table is written, which parts must then be asked, and what is answered beside the columns."""

    made: Callable[[Grid], bytes]
    asked: frozenset[str] = frozenset()
    answer: dict[str, Any] = field(default_factory=dict)


def shapes_for(name: str, kind: Kind) -> dict[str, Shape]:
    columns = {"columns": [*kind.columns], **kind.told}
    alone = columns | {"head": 1}
    unnamed = ["A1", *(f"Spalte {place}" for place in range(2, len(kind.columns) + 1))]
    found = {
        "semicolons and a decimal comma": Shape(text),
        "tabs": Shape(lambda grid: text(grid, "\t")),
        "commas and a decimal point": Shape(lambda grid: text(pointed(grid), ",")),
        "fixed width": Shape(fixed),
        "UTF-16 with its mark": Shape(lambda grid: text(grid, "\t", "utf-16")),
        "UTF-16 without": Shape(lambda grid: text(grid, "\t", "utf-16-le")),
        "Latin-1": Shape(lambda grid: text(grid, ";", "latin-1")),
        "noise above the head": Shape(lambda grid: text(grid, above="List 7\n\nMade by;N. N.\n")),
        "a workbook": Shape(lambda grid: book(A=cells(grid))),
        "an .ods": Shape(lambda grid: ods(*cells(grid))),  # type: ignore[arg-type]  # text and figures
        "the second sheet": Shape(lambda grid: book(Notes=[("nothing",)], A=cells(grid))),
        "two sheets of them": Shape(
            lambda grid: book(One=cells(grid[:2]), Two=cells(grid)), frozenset({"sheet"}), alone | {"sheet": 1}
        ),
        "heads of its own": Shape(lambda grid: text([unnamed, *grid[1:]]), frozenset({"columns"}), alone),
        "no head": Shape(lambda grid: text(grid[1:]), frozenset({"columns"}), columns | {"head": 0}),
        "columns that are not wanted": Shape(
            lambda grid: text([[*row, "x" if at else "Colour"] for at, row in enumerate(grid)])
        ),
    }  # fmt: skip
    if kind.day is not None or kind.clock is not None:
        found["days in an order that is not to be told"] = Shape(
            days_of(kind, "%d/%m/%Y %H:%M" if kind.clock is not None else "%d/%m/%Y"), frozenset({"day_order"}),
            alone | {"day_order": "dmy"},
        )  # fmt: skip
        found["days with dots"] = Shape(days_of(kind, "%d.%m.%Y %H:%M" if kind.clock is not None else "%d.%m.%Y"))
    if kind.clock is not None:
        found["AM and PM"] = Shape(days_of(kind, "%Y/%m/%d %I:%M %p"))
    if name in ("readings", "logger files"):
        found["times without a day"] = Shape(days_of(kind, "%H:%M"), frozenset({"day"}), alone | {"day": "2026-03-04"})
    if kind.once is not None:
        asked = frozenset() if name == "readings" else frozenset({"blanks"})
        answer = {} if name == "readings" else alone | {"blanks": "above"}
        found["what repeats left empty"] = Shape(lambda grid: text(emptied(grid, kind.once or 0)), asked, answer)
    return found


@pytest.mark.parametrize("name", KINDS)
def test_every_shape_of_every_table_is_read_for_certain_or_asked_about(cast: Cast, name: str) -> None:
    kind = KINDS[name]
    client, where = as_person(cast.quinn), kind.where(cast, a_station(cast))
    look = where + "look/" if name in ("readings", "logger files") else where
    for number, (shape, how) in enumerate(shapes_for(name, kind).items()):
        mark = f"M{number}x"
        content = how.made([[*kind.heads], *kind.rows(mark)])

        def ask(where: str, *, content: bytes = content, **more: Any) -> tuple[int, Any]:
            sent = {"name": "t", "content": base64.b64encode(content).decode(), "confirmed": True, **kind.sent(cast)}
            answer = client.post(where, json.dumps(sent | more), content_type="application/json")
            return answer.status_code, answer.json()

        looks: dict[str, Any] = {} if look != where else {"preview": True}
        status, seen = ask(look, **looks)
        told = f"{name}: {shape}"
        assert status == 200, (told, seen)
        parts = {one["part"] for one in seen["asked"]}
        assert how.asked <= parts, (told, seen["asked"])
        more: dict[str, Any] = {}
        if parts:
            # Nothing that is asked is guessed; what the heads did say is proposed.
            assert ask(where)[0] == 422, told
            answer = how.answer or {"columns": [*kind.columns], **kind.told}
            more = {"shape": seen["shape"] | answer}
        status, stored = ask(where, **more)
        assert status == 201, (told, seen, stored)
        assert kind.stored() == kind.expected(mark), told


LIST = "84,5\n85,25\n79,9\n"


def test_what_a_kind_of_table_cannot_take_is_asked_or_refused_and_a_list_or_rows_by_spot_are_readings(
    cast: Cast,
) -> None:
    client, station = as_person(cast.quinn), a_station(cast)

    def ask(name: str, rows: str, where: str = "", **more: Any) -> tuple[int, Any]:
        sent = {"name": "t", "rows": rows, **KINDS[name].sent(cast), **more}
        answer = client.post(
            KINDS[name].where(cast, station) + where, json.dumps(sent), content_type="application/json"
        )
        return answer.status_code, answer.json()

    for name in ("areas", "batches", "certificates", "logger files"):
        look: dict[str, Any] = {"where": "look/"} if name == "logger files" else {"preview": True}
        status, seen = ask(name, LIST, **look)
        assert (status, {one["part"] for one in seen["asked"]}) == (200, {"columns"}), name
        assert ask(name, LIST)[0] == 422
    # A code alone makes no new area.
    status, refused = ask("areas", "code\nQ1\n")
    assert (status, {one["field"] for one in refused["errors"]}) == (422, {"name", "area_m2"})
    # A list of values, and a row for each spot.
    times = {"first_reading_at": "2026-03-04T14:05:00Z", "last_reading_at": "2026-03-04T14:15:00Z"}
    _, seen = ask("readings", LIST, "look/", **times)
    assert {one["part"] for one in seen["asked"]} == {"unit", "spot"}
    shape = seen["shape"] | {"unit": "um", "per_spot": 2}
    assert ask("readings", LIST, shape=shape, **times)[0] == 201
    assert readings_stored() == (AT, [(1, 84_500), (1, 85_250), (2, 79_900)])
    by_spot = "Spot;DFT 1 µm;DFT 2 µm\n1;84,5;85,25\n2;79,9;\n"
    assert ask("readings", by_spot, confirmed=True, **times)[0] == 201
    assert readings_stored() == (AT, [(1, 84_500), (1, 85_250), (2, 79_900)])
    # Of several areas in one file it is asked which is meant.
    areas = "Area;Spot;DFT µm\nA1;1;84,5\n;1;85,25\nA2;1;50\n"
    assert ask("readings", areas, **times)[1]["errors"][0]["field"] == "of_area"
    assert ask("readings", areas, of_area="A1", **times)[0] == 201
    assert readings_stored() == (AT, [(1, 84_500), (1, 85_250)])
