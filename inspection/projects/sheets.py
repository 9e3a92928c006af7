"""Data sheets of products: recorded with their table, corrected, chosen for a coat, taken away where none uses them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.text import line
from inspection.projects.actions import goes_on, hold_sheets
from inspection.projects.corrections import reason_faults
from inspection.projects.models import Coat, DataSheet, DataSheetRow, Project
from inspection.projects.preconditions import in_sight, row_faults, save_new, snapshot

MOST_ROWS = 60
PART = re.compile(r"\d{1,5}(\.\d{1,4})?")
COLDEST_C, HOTTEST_C = -40, 80
MOST_HOURS = 99_999


@dataclass(frozen=True, kw_only=True)
class SheetRow:
    """A line of the table: hours at a temperature in °C (of the paint for pot life), before the next product."""

    temperature_c: Decimal | None = None
    next_product: str = ""
    recoat_min_hours: Decimal | None = None
    recoat_max_hours: Decimal | None = None
    hard_dry_hours: Decimal | None = None
    pot_life_hours: Decimal | None = None


@transaction.atomic
def record_sheet(by: Person, *, project: Project, rows: Sequence[SheetRow], **said: Any) -> DataSheet:
    """Store what a data sheet of one revision says: the columns of `DataSheet` by name, and the rows of its table."""
    require(by, Role.QUALITY_MANAGER, to="record a data sheet")
    in_sight(by, project)
    goes_on(project)
    sheet = _worded(DataSheet(project=project), said)
    if faults := [*_faults(sheet, rows), *_taken(sheet)]:
        raise Refused(faults)
    save_new(sheet, already=_already(sheet), field="revision")
    _write(sheet, rows)
    journal.record("data_sheet.recorded", sheet, by=by, project_id=project.pk, after=_told(sheet))
    return sheet


@transaction.atomic
def correct_sheet(by: Person, *, sheet: DataSheet, rows: Sequence[SheetRow], reason: str, **said: Any) -> DataSheet:
    """Put right what was entered of a data sheet. A newer revision of the maker's is recorded as one of its own."""
    locked = _locked(by, sheet, to="correct a data sheet")
    before = _told(locked)
    _worded(locked, said)
    if faults := [*_faults(locked, rows), *_taken(locked), *reason_faults(reason)]:
        raise Refused(faults)
    try:
        with transaction.atomic():
            locked.save()
    except IntegrityError:
        raise Conflict(Fault(_already(locked), "revision")) from None
    locked.rows.all().delete()
    _write(locked, rows)
    after = _told(locked)
    if after == before:
        raise Refused("Nothing differs from what is stored.")
    changed = {name for name in after if after[name] != before[name]}
    journal.record(
        "data_sheet.corrected", locked, by=by, project_id=locked.project_id, reason=reason.strip(),
        before={name: before[name] for name in changed}, after={name: after[name] for name in changed},
    )  # fmt: skip
    return locked


@transaction.atomic
def remove_sheet(by: Person, *, sheet: DataSheet, reason: str) -> None:
    """Take away a data sheet that no coat uses; the journal keeps what it said."""
    locked = _locked(by, sheet, to="remove a data sheet")
    if faults := reason_faults(reason):
        raise Refused(faults)
    if used := list(locked.coats.select_related("system")):
        named = ", ".join(f"{coat} of {coat.system}" for coat in used)
        raise Refused(f"{named} uses it; choose another data sheet, or none, for it first.")
    journal.record(
        "data_sheet.removed", locked, by=by, project_id=locked.project_id, before=_told(locked), reason=reason.strip()
    )
    locked.delete()


@transaction.atomic
def choose_sheet(by: Person, *, coat: Coat, data_sheet: DataSheet | None, reason: str) -> Coat:
    """Say by which data sheet a coat's product is applied, or by none that is recorded."""
    require(by, Role.QUALITY_MANAGER, to="choose the data sheet of a coat")
    in_sight(by, coat)
    hold_sheets(by, [data_sheet])
    locked = Coat.objects.select_for_update(of=("self",)).select_related("system__project").get(pk=coat.pk)
    goes_on(locked.system.project)
    faults = reason_faults(reason)
    if data_sheet and data_sheet.project_id != locked.system.project_id:
        faults.append(Fault("Choose a data sheet of the same project.", "data_sheet"))
    if not faults and locked.data_sheet_id == (data_sheet.pk if data_sheet else None):
        faults.append(Fault("Nothing differs from what is stored.", "data_sheet"))
    if faults:
        raise Refused(faults)
    before = locked.data_sheet
    locked.data_sheet = data_sheet
    locked.save(update_fields=["data_sheet"])
    journal.record(
        "coat.data_sheet_chosen", locked, by=by, project_id=locked.system.project_id, reason=reason.strip(),
        before={"data_sheet": str(before) if before else None},
        after={"data_sheet": str(data_sheet) if data_sheet else None},
    )  # fmt: skip
    return locked


def _locked(by: Person, sheet: DataSheet, *, to: str) -> DataSheet:
    require(by, Role.QUALITY_MANAGER, to=to)
    in_sight(by, sheet)
    locked: DataSheet | None = (
        DataSheet.objects.select_for_update(of=("self",)).select_related("project").filter(pk=sheet.pk).first()
    )
    if locked is None:
        raise Conflict("Somebody removed the data sheet at the same moment.")
    goes_on(locked.project)
    return locked


def _worded(sheet: DataSheet, said: dict[str, Any]) -> DataSheet:
    for name, value in said.items():
        setattr(sheet, name, value.strip() if isinstance(value, str) else value)
    return sheet


def _write(sheet: DataSheet, rows: Sequence[SheetRow]) -> None:
    DataSheetRow.objects.bulk_create([DataSheetRow(sheet=sheet, **asdict(row)) for row in _stripped(rows)])


def _stripped(rows: Sequence[SheetRow]) -> list[SheetRow]:
    return [SheetRow(**asdict(row) | {"next_product": row.next_product.strip()}) for row in rows]


def _told(sheet: DataSheet) -> dict[str, Any]:
    rows = [snapshot(row) for row in sheet.rows.all()]
    return {**snapshot(sheet), "rows": [{name: row[name] for name in asdict(SheetRow())} for row in rows]}


def _already(sheet: DataSheet) -> str:
    return f"There is already a data sheet {sheet} in {sheet.project.code}."


def _taken(sheet: DataSheet) -> list[Fault]:
    same = DataSheet.objects.filter(
        project=sheet.project, product__iexact=sheet.product, revision__iexact=sheet.revision
    ).exclude(pk=sheet.pk)
    return [Fault(_already(sheet), "revision")] if same.exists() else []


def _faults(sheet: DataSheet, rows: Sequence[SheetRow]) -> Iterator[Fault]:
    yield from row_faults(sheet)
    for low, high, what in (
        ("air_min_c", "air_max_c", "The air temperature range"),
        ("surface_min_c", "surface_max_c", "The steel temperature range"),
        ("humidity_min_pct", "humidity_max_pct", "The range of relative humidity"),
    ):
        least, most = getattr(sheet, low), getattr(sheet, high)
        if least is not None and most is not None and least >= most:
            yield Fault(f"{what} ends before it begins; the upper figure is the greater one.", high)
    for name in ("humidity_min_pct", "humidity_max_pct", "thinner_max_pct", "mixing_tolerance_pct"):
        value = getattr(sheet, name)
        if value is not None and not 0 <= value <= 100:
            yield Fault("Give 0 to 100 %.", name)
    if sheet.pot_life_hours is not None and sheet.pot_life_hours <= 0:
        yield Fault("The pot life is more than zero.", "pot_life_hours")
    if sheet.pot_life_at_c is not None and sheet.pot_life_hours is None:
        yield Fault("Give the pot life that holds at this temperature.", "pot_life_hours")
    if sheet.thinner_max_pct and not sheet.thinner:
        yield Fault("Name the thinner of which so much may be added.", "thinner")
    for name in ("mixing_by_volume", "mixing_by_mass"):
        text = getattr(sheet, name)
        if text and parts_of(text) is None:
            yield Fault(f"“{text}” is no ratio; write it base first, as 4:1 or 100:12.5.", name)
    if sheet.mixing_tolerance_pct is not None and not (sheet.mixing_by_volume or sheet.mixing_by_mass):
        yield Fault("Give the mixing ratio that may be missed by so much.", "mixing_by_volume")
    yield from _table_faults(_stripped(rows))
    yield from _pot_life_faults(rows)


def parts_of(ratio: str) -> tuple[Decimal, ...] | None:
    """The parts of a ratio as a data sheet writes it, base first; None where it is no ratio of two or more parts."""
    parts = [part.strip().replace(",", ".") for part in ratio.split(":")]
    if not 2 <= len(parts) <= 6 or not all(PART.fullmatch(part) for part in parts):
        return None
    found = tuple(Decimal(part) for part in parts)
    return found if all(part > 0 for part in found) else None


def _pot_life_faults(rows: Sequence[SheetRow]) -> Iterator[Fault]:
    """Pot life, wherever it is given, is one figure a temperature and does not grow as it gets warmer."""
    known: dict[Decimal, Decimal] = {}
    for number, row in enumerate(rows, start=1):
        if row.pot_life_hours is None or row.temperature_c is None:
            continue
        if row.pot_life_hours <= 0:
            yield Fault("The pot life is more than zero.", "pot_life_hours", number)
        elif known.setdefault(row.temperature_c, row.pot_life_hours) != row.pot_life_hours:
            yield Fault("Another line gives another pot life at this temperature.", "pot_life_hours", number)
        elif any((row.temperature_c - at) * (row.pot_life_hours - hours) > 0 for at, hours in known.items()):
            yield Fault("Pot life does not grow as it gets warmer; check the lines.", "pot_life_hours", number)


def _table_faults(rows: Sequence[SheetRow]) -> Iterator[Fault]:
    if len(rows) > MOST_ROWS:
        yield Fault(f"Give at most {MOST_ROWS} lines.", "rows")
    seen: set[tuple[Decimal, str]] = set()
    for number, row in enumerate(rows, start=1):
        yield from _row_faults(row, number)
        if row.temperature_c is None:
            continue
        place = (row.temperature_c, row.next_product.casefold())
        if place in seen:
            yield Fault("The table has a line for this temperature and next product already.", "temperature_c", number)
        seen.add(place)


def _row_faults(row: SheetRow, number: int) -> Iterator[Fault]:
    hours = ("recoat_min_hours", "recoat_max_hours", "hard_dry_hours", "pot_life_hours")
    if row.temperature_c is None:
        yield Fault("Give the temperature of the steel this line holds at.", "temperature_c", number)
    elif not COLDEST_C <= row.temperature_c <= HOTTEST_C:
        yield Fault(f"Give a temperature from {COLDEST_C} to {HOTTEST_C} °C.", "temperature_c", number)
    if all(getattr(row, name) is None for name in hours):
        yield Fault("Give at least one of the hours.", "recoat_min_hours", number)
    for name in ("temperature_c", *hours):
        value = getattr(row, name)
        if value is not None and value != round(value, 1):
            yield Fault("Give at most one digit after the point.", name, number)
        elif name in hours and value is not None and not 0 <= value <= MOST_HOURS:
            yield Fault(f"Give 0 to {MOST_HOURS} hours.", name, number)
    least, most = row.recoat_min_hours, row.recoat_max_hours
    if least is not None and most is not None and least >= most:
        yield Fault(
            "The recoat window ends before it begins; the upper figure is the greater one.", "recoat_max_hours", number
        )
    try:
        line(row.next_product, field="next_product", most=120, needed=False)
    except Refused as refusal:
        yield from (Fault(fault.message, "next_product", number) for fault in refusal.faults)
