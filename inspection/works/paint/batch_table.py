"""A delivery of paint from one table, a row for each batch. Reading stores nothing; what is wrong stands at its row."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from accounts.models import Person
from inspection.foundation import tables
from inspection.foundation.asked_tables import Columns, can_be
from inspection.foundation.clocks import Unclear, day_of, moment_of
from inspection.foundation.refusals import Refused
from inspection.foundation.tables import lines_under_head
from inspection.foundation.written_times import written
from inspection.projects.models import Party, Project
from inspection.works.models import PaintBatch
from inspection.works.paint.batches import faults_of, products_of, questions_of
from inspection.works.paint.models import Component, Unit

COLUMNS = (
    "product", "component", "number", "made_on", "expires_on", "received", "unit", "containers", "storage_min_c",
    "storage_max_c", "received_at", "received_by", "place", "note",
)  # fmt: skip
NEEDED = ("product", "component", "number", "received", "unit", "received_at")
TEMPLATE = ";".join(COLUMNS) + "\nFilm 40;base;K-1;2026-01-10;2027-01-10;160;l;10;5;35;2026-03-02 08:30;;Store 2;\n"
READ_AS = Columns(
    "batches",
    (
        can_be("product", "Product", "product name|paint|material|produkt"),
        can_be("component", "Component: A, B, single or thinner", "part|comp|komponente"),
        can_be("number", "Batch number", "batch|batch no|batch number|batch nr|lot|lot no|lot number|charge"
               "|chargennummer|charge nr"),
        can_be("made_on", "Made on", "made|made on|production date|manufactured|date of manufacture|manufacture date"
               "|hergestellt|hergestellt am|herstelldatum"),
        can_be("expires_on", "Expires on", "expires|expires on|expiry|expiry date|use by|best before|shelf life until"
               "|haltbar bis|verfallsdatum"),
        can_be("received", "Quantity received", "quantity|qty|amount|menge"),
        can_be("unit", "Unit: l or kg", "units|einheit"),
        can_be("containers", "Containers", "cans|tins|number of containers|drums|gebinde"),
        can_be("storage_min_c", "Storage from, °C", "storage min|storage min c|storage min °c|min storage temperature",
               unit="c"),
        can_be("storage_max_c", "Storage to, °C", "storage max|storage max c|storage max °c|max storage temperature",
               unit="c"),
        can_be("received_at", "Received at", "received at|received on|date received|delivered|delivery date"
               "|delivered on|date of delivery|geliefert|geliefert am|lieferdatum"),
        can_be("received_by", "Received by", "received by|taken in by|angenommen von"),
        can_be("place", "Where it is kept", "store|storage place|stored in|location|lagerort"),
        can_be("note", "Note", "notes|remark|remarks|comment|bemerkung"),
    ),
    NEEDED, frozenset({"made_on", "expires_on", "received_at"}), repeated=("product", "received_at", "place"),
)  # fmt: skip
TEXTS = {"product": 120, "number": 60, "received_by": 120, "place": 120, "note": 300}
NEW, UNCHANGED = "New", "There already"
COMPONENTS = {"a": Component.BASE, "b": Component.HARDENER} | {value: Component(value) for value in Component.values}
UNITS = {"litre": Unit.LITRES, "litres": Unit.LITRES, "l": Unit.LITRES, "kg": Unit.KILOGRAMS}


@dataclass
class Row(tables.Row):
    """One line of the table, what it says of a batch, and whether that is there already."""

    values: dict[str, Any] = field(default_factory=dict)
    outcome: str = ""
    # What is doubtful about it, as sentences; shown with the row.
    changes: list[str] = field(default_factory=list)


@dataclass
class Table(tables.Table):
    COLUMNS = COLUMNS
    rows: list[Row]

    def new(self) -> list[Row]:
        return [row for row in self.rows if row.outcome == NEW]

    @property
    def found(self) -> str:
        """What the table holds, in words."""
        new, rows = len(self.new()), len(self.rows)
        there = f", {rows - new} of them there already" if new < rows else ""
        return f"{rows} batch{'es' * (rows != 1)}{there}"

    def show_refusal(self, refusal: Refused) -> None:
        """What the action refused at storing, beside the row it meant."""
        new = self.new()
        for fault in refusal.faults:
            new[(fault.row or 1) - 1].fault(fault.field, fault.message)


def read(by: Person, project: Project, party: Party, content: bytes) -> Table:
    """Read and check a table of batches for a party. Raises Refused for a file that is no such table."""
    rows = [Row(line) for line in lines_under_head(content, known=COLUMNS, needed=NEEDED)]
    there = {
        _key(batch.product, batch.component, batch.number): batch
        for batch in PaintBatch.objects.that_count().filter(project=project, party=party)
    }
    products, seen = products_of(project), dict[tuple[str, str, str], int]()
    for row in rows:
        row.faults += row.line.unseen()
        row.values = _values(row, project)
        if row.faults:
            continue
        key = _key(row.values["product"], row.values["component"], row.values["number"])
        if key in seen:
            row.fault("number", f"This batch stands in row {seen[key]} already; give it once.")
            continue
        seen[key] = row.number
        _compare(row, PaintBatch(project=project, party=party, entered_by=by), there.get(key), products)
    return Table(rows)


def _key(product: str, component: str, number: str) -> tuple[str, str, str]:
    return product.casefold(), component, number.casefold()


def _compare(row: Row, batch: PaintBatch, stored: PaintBatch | None, products: set[str]) -> None:
    """Whether it is new; one that is there must say the same: a correction is made on its page, with its reason."""
    if stored is None:
        row.outcome = NEW
        for name, value in row.values.items():
            setattr(batch, name, value)
        for fault in faults_of(batch):
            row.fault(fault.field, fault.message)
        if not row.faults:
            row.changes = [fault.message for fault in questions_of(batch, products)]
        return
    row.outcome = UNCHANGED
    for name, value in row.values.items():
        if row.line[name] and getattr(stored, name) != value:
            told = f"is stored otherwise, {_shown(getattr(stored, name))}; correct the batch on its page."
            row.fault(name, told)


def _shown(value: Any) -> str:
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    return f"{value:%Y-%m-%d %H:%M}" if isinstance(value, datetime) else str(value or "empty")


def _values(row: Row, project: Project) -> dict[str, Any]:
    line = row.line
    values: dict[str, Any] = {}
    for name, most in TEXTS.items():
        values[name] = line[name]
        if not line[name] and name in NEEDED:
            row.fault(name, "is missing.")
        elif len(line[name]) > most:
            row.fault(name, f"has {len(line[name])} characters; at most {most} can be kept.")
    for name, known, words in (
        ("component", COMPONENTS, "A or base, B or hardener, single, thinner"), ("unit", UNITS, "l or kg"),
    ):  # fmt: skip
        values[name] = known.get(line[name].casefold())
        if values[name] is None:
            row.fault(name, f"“{line[name][:30]}” is not known; write {words}.")
    for name in ("made_on", "expires_on"):
        values[name] = _day(row, name)
    for name, digits in (("received", 2), ("storage_min_c", 1), ("storage_max_c", 1), ("containers", 0)):
        values[name] = _figure(row, name, digits)
    values["received_at"] = _moment(row, project)
    return values


def _day(row: Row, column: str) -> date | None:
    text = row.line[column]
    try:
        return day_of(text) if text else None
    except ValueError:
        row.fault(column, f"“{text[:20]}” is not a date; write it as 2026-03-04 or 04.03.2026.")
        return None


def _moment(row: Row, project: Project) -> datetime | None:
    """When it was received, as the project's clocks showed it; a day alone is its noon."""
    text = row.line["received_at"]
    try:
        day = day_of(text)
        return moment_of(datetime(day.year, day.month, day.day, 12), project.zone)  # noqa: DTZ001 - a local time
    except ValueError:
        pass
    try:
        _, at = written(text)
        if not isinstance(at, datetime):
            raise ValueError(text)
        return moment_of(at, project.zone)
    except Unclear as unclear:
        row.fault("received_at", str(unclear))
    except (ValueError, OverflowError):
        told = f"“{text[:20]}” is not a date and time; write it as 2026-03-04 14:05, or the day alone."
        row.fault("received_at", told if text else "is missing.")
    return None


def _figure(row: Row, column: str, digits: int) -> Any:
    text = row.line[column]
    if not text:
        if column in NEEDED:
            row.fault(column, "is missing.")
        return None
    try:
        value = Decimal(text.replace(",", ".") if text.count(",") == 1 and "." not in text else text)
        fits = value.is_finite() and abs(value) < 1_000_000 and value == round(value, digits)
    except (InvalidOperation, ValueError):
        fits = False
    if not fits:
        row.fault(column, f"“{text[:20]}” is not a number with at most {digits} digits after the point.")
        return None
    return value if digits else int(value)
