"""Many certificates from one table: a row for each thing a certificate names; rows with one number belong together.

Reading stores nothing. What is wrong stands beside its row; what is right is ready for the action.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any

from accounts.models import Person
from inspection.foundation import tables
from inspection.foundation.asked_tables import Columns, can_be
from inspection.foundation.clocks import day_of
from inspection.foundation.refusals import Refused
from inspection.foundation.tables import lines_under_head
from inspection.foundation.units import Unit, in_unit, nm_around
from inspection.instruments.actions import Paper, StandardValue, paper_faults
from inspection.instruments.models import Certificate, Gauge, ReferenceStandard

HEAD_COLUMNS = (
    "number",
    "laboratory",
    "accreditation",
    "issued",
    "expires",
    "coverage_factor",
    "traceable_to",
    "parent",
)
COLUMNS = (*HEAD_COLUMNS, "thing", "value_um", "uncertainty_um", "value_mil", "uncertainty_mil")
NEEDED = ("number", "laboratory", "issued", "expires", "traceable_to", "thing")
READ_AS = Columns(
    "certificates",
    (
        can_be("number", "Number of the certificate", "certificate|certificate no|certificate number|cert no|zertifikat"
               "|zertifikatsnummer|kalibrierschein"),
        can_be("laboratory", "Laboratory", "lab|calibration laboratory|issued by|labor|kalibrierlabor"),
        can_be("accreditation", "Accreditation", "accreditation no|accreditation number|akkreditierung"),
        can_be("issued", "Issued on", "date|issue date|date of issue|calibrated|calibration date|date of calibration"
               "|issued on|ausgestellt|ausgestellt am|kalibriert am"),
        can_be("expires", "Expires on", "valid until|valid to|expiry|expiry date|due|due date|next calibration|due on"
               "|calibration due|gültig bis"),
        can_be("coverage_factor", "Coverage factor k", "k|coverage factor|k factor|erweiterungsfaktor"),
        can_be("traceable_to", "Traceable to", "traceable to|traceability|traceable|rückführbar auf"),
        can_be("parent", "Certificate above it", "parent certificate|reference certificate"),
        can_be("thing", "Gauge or standard", "gauge|instrument|serial|serial no|serial number|equipment|identity"
               "|standard|id|gerät|seriennummer"),
        can_be("value_um", "Value, µm", "value um|certified value um|nominal um|wert um", unit="um"),
        can_be("uncertainty_um", "Uncertainty, µm", "uncertainty um|u um|unsicherheit um", unit="um"),
        can_be("value_mil", "Value, mil", "value mil|certified value mil|nominal mil|wert mil", unit="mil"),
        can_be("uncertainty_mil", "Uncertainty, mil", "uncertainty mil|u mil|unsicherheit mil", unit="mil"),
    ),
    NEEDED, frozenset({"issued", "expires"}), repeated=("number", "laboratory"),
)  # fmt: skip
# Shown when a table is to be made; the unit is µm, `value_mil` and `uncertainty_mil` may be used instead.
MOST_DIGITS = 5
TEMPLATE = ";".join((*HEAD_COLUMNS, "thing", "value_um", "uncertainty_um")) + "\n"


@dataclass
class Row(tables.Row):
    """One line of the table, and what it names."""

    thing: Gauge | ReferenceStandard | None = None
    value: StandardValue | None = None


@dataclass
class Draft:
    """One certificate, from the rows that bear its number."""

    rows: list[Row]
    paper: Paper | None = None


@dataclass
class Table(tables.Table):
    COLUMNS = COLUMNS
    rows: list[Row]
    drafts: list[Draft]

    @property
    def found(self) -> str:
        """What the table holds, in words."""
        papers, rows = len(self.drafts), len(self.rows)
        return f"{papers} certificate{'s' * (papers > 1)} with {rows} row{'s' * (rows > 1)}"

    def papers(self) -> list[Paper]:
        return [draft.paper for draft in self.drafts if draft.paper]

    def show_refusal(self, refusal: Refused) -> None:
        """What the action refused at storing, beside the first row of the certificate it meant."""
        for fault in refusal.faults:
            draft = self.drafts[(fault.row or 1) - 1]
            draft.rows[0].fault(fault.field, fault.message)


def read(by: Person, content: bytes) -> Table:
    """Read and check a table. Raises Refused for a file that is no table of certificates."""
    rows = [Row(line) for line in lines_under_head(content, known=COLUMNS, needed=NEEDED)]
    for row in rows:
        row.faults += row.line.unseen()
    _find_things(by, rows)
    by_number: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        key = (row.line["number"].casefold(), row.line["laboratory"].casefold())
        by_number.setdefault(key, []).append(row)
    drafts = [Draft(found) for found in by_number.values()]
    parents = _parents(by, rows)
    for draft in drafts:
        _complete(by, draft, parents)
    return Table(rows, drafts)


def _find_things(by: Person, rows: list[Row]) -> None:
    """Gauges and standards by their identity, in two queries for the whole table."""
    known: dict[str, Gauge | ReferenceStandard] = {}
    for things in (Gauge.objects.visible_to(by), ReferenceStandard.objects.visible_to(by)):
        known.update({thing.identity.casefold(): thing for thing in things})
    for row in rows:
        identity = row.line["thing"]
        row.thing = known.get(identity.casefold())
        if not identity:
            row.fault("thing", "Name the gauge or standard by its company number.")
        elif row.thing is None:
            row.fault("thing", f"{identity[:40]} is not registered; register it first, or correct the number.")
        _read_value(row, row.thing)


def _read_value(row: Row, thing: Gauge | ReferenceStandard | None) -> None:
    """The figures of a row; of a thing that is not known only whether they are figures."""
    given = {column: row.line[column] for column in COLUMNS[-4:] if row.line[column]}
    if isinstance(thing, Gauge):
        if given:
            row.fault(next(iter(given)), f"{thing} is a gauge, which has no certified value; leave this empty.")
        return
    unit = Unit.MIL if "value_mil" in given or "uncertainty_mil" in given else Unit.UM
    if unit is Unit.MIL and ("value_um" in given or "uncertainty_um" in given):
        row.fault("value_um", "Give value and uncertainty both in µm or both in mil.")
        return
    figures = []
    for name in (f"value_{unit}", f"uncertainty_{unit}"):
        if name not in given:
            if thing:
                row.fault(name, f"is missing for {thing}, which is a standard.")
            continue
        try:
            # As laboratories write it: ±0.4.
            is_value = not name.startswith("uncertainty")
            text = given[name] if is_value else given[name].lstrip("± ")
            below, nearest, above = nm_around(text, unit, field=name, row=row.line.number)
            # No check rests on a paper that is not recorded yet; an uncertainty is not made less by rounding.
            kept = nearest if is_value else above
            if below != above:
                row.told.append(f"{name}: {text} is kept as {in_unit(kept, unit, MOST_DIGITS)}.")
            figures.append(kept)
        except Refused as refusal:
            row.faults += refusal.faults
    if thing and len(figures) == 2:
        row.value = StandardValue(thing, figures[0], figures[1])


def _parents(by: Person, rows: list[Row]) -> dict[str, Certificate]:
    numbers = {row.line["parent"] for row in rows if row.line["parent"]}
    found = Certificate.objects.visible_to(by).filter(replaced_by=None, number__in=numbers)
    return {paper.number: paper for paper in found}


def _complete(by: Person, draft: Draft, parents: dict[str, Certificate]) -> None:
    """Put the certificate of a draft together; what its rows say of its head must agree."""
    first = draft.rows[0]
    for row in draft.rows[1:]:
        for column in HEAD_COLUMNS:
            if row.line[column] and row.line[column] != first.line[column]:
                row.fault(column, f"differs from row {first.line.number} of the same certificate.")
    given = _head(first, parents)
    told = {fault.field for fault in first.faults}
    if told & {"issued", "expires"}:
        # What hangs on a day that could not be read is no fault of its own.
        told |= {"issued", "expires", "parent"}
    gauges = [row.thing for row in draft.rows if isinstance(row.thing, Gauge)]
    valued = [row for row in draft.rows if row.value]
    paper = Paper(**given, gauges=gauges, values=[row.value for row in valued if row.value])
    for fault in paper_faults(by, paper):
        row = valued[fault.row - 1] if fault.row else first
        if fault.row or fault.field not in told:
            row.fault(fault.field, fault.message)
    if not any(row.faults for row in draft.rows):
        draft.paper = paper


def _head(row: Row, parents: dict[str, Certificate]) -> dict[str, Any]:
    line = row.line
    parent = parents.get(line["parent"])
    if line["parent"] and not parent:
        row.fault("parent", f"Certificate {line['parent'][:40]} is not recorded; record it first.")
    return {
        "number": line["number"], "laboratory": line["laboratory"], "accreditation": line["accreditation"],
        "traceable_to": line["traceable_to"], "parent": parent, "issued": _day(row, "issued"),
        "expires": _day(row, "expires"), "coverage_factor": _factor(row),
    }  # fmt: skip


def _day(row: Row, column: str) -> date:
    try:
        return day_of(row.line[column])
    except ValueError:
        row.fault(column, f"“{row.line[column][:20]}” is not a date; write it as 2026-03-04 or 04.03.2026.")
        return date.min


def _factor(row: Row) -> Decimal:
    text = row.line["coverage_factor"].replace(",", ".") or "2"
    try:
        factor = Decimal(text)
    except InvalidOperation:
        factor = Decimal("NaN")
    if not factor.is_finite() or factor != factor.quantize(Decimal("0.01")):
        row.fault("coverage_factor", f"“{text[:20]}” is not a coverage factor; write it as 2 or 2.05.")
        return Decimal(2)
    return factor
