"""What a line requires and asks of parties, written on one line: as it is shown, and as a table says it."""

from __future__ import annotations

import re
from collections.abc import Iterable

from inspection.fieldwork.kinds import BY_NAME, KINDS
from inspection.foundation.refusals import Fault, Refused
from inspection.plan.models import Intervention, LeadUnit, LineRequirement, PlanLine

Required = tuple[str, int, int | None]
"""Name of a kind of record, how many, and within how many hours."""
_REQUIRED = re.compile(r"(?:(\d{1,4})\s*[x×]?\s+)?([a-z0-9 _-]+?)(?:\s+within\s+(\d{1,6})\s*h)?", re.IGNORECASE)
_LEAD = re.compile(r"(\d{1,5})\s*(h|hours?|d|days?)", re.IGNORECASE)


def requirements_told(rows: Iterable[LineRequirement]) -> str:
    return ", ".join(required_told(row.kind, row.how_many, row.fresh_hours) for row in rows)


def required_told(kind: str, how_many: int, fresh_hours: int | None) -> str:
    return f"{f'{how_many} ' if how_many > 1 else ''}{kind}{f' within {fresh_hours} h' if fresh_hours else ''}"


def requirements_read(text: str) -> list[Required]:
    """`2 climate within 8 h, profile` as kinds, how many and how fresh. Raises Refused for what cannot be read."""
    found: list[Required] = []
    for part in filter(None, (each.strip() for each in text.split(","))):
        read = _REQUIRED.fullmatch(part)
        if read is None:
            raise Refused(f"“{part[:40]}” cannot be read; write as: 2 climate within 8 h, profile.", field="requires")
        name = read[2].strip().casefold()
        found.append((name, int(read[1] or 1), int(read[3]) if read[3] else None))
    return found


def kind_faults(required: Iterable[Required]) -> list[Fault]:
    """What is wrong with the kinds of record that a line asks for."""
    faults, seen = [], set()
    for kind, how_many, fresh_hours in required:
        if kind not in BY_NAME:
            known = ", ".join(BY_NAME)
            faults.append(Fault(f"“{kind[:40]}” is no kind of record; known are {known}.", "requires"))
        elif kind in seen:
            faults.append(Fault(f"{kind} is asked for twice; say once how many.", "requires"))
        if not 1 <= how_many <= 100:
            faults.append(Fault(f"{how_many} of {kind[:40]}; ask for 1 to 100.", "requires"))
        if fresh_hours is not None and not 1 <= fresh_hours <= 10_000:
            faults.append(Fault(f"{kind[:40]} within {fresh_hours} h; give 1 to 10,000 h.", "requires"))
        seen.add(kind)
    return faults


def interventions_told(rows: Iterable[Intervention]) -> str:
    return ", ".join(
        f"{row.letter} {row.party.organisation if row.party else row.get_party_kind_display().lower()}" for row in rows
    )


# Kinds of record that are made after a coat, so that on the bare steel there can be none.
AFTER_A_COAT = tuple(kind.name for kind in KINDS if kind.of_coat == "after")


def not_followed(line: PlanLine) -> list[str]:
    """What a line asks of records that the points of its areas can't follow, a sentence each."""
    if line.scope != PlanLine.Scope.AREA:
        return []
    found = []
    for each in line.requirements.all():
        if line.coat_order is None and each.kind in AFTER_A_COAT:
            found.append(f"{each.kind}: made after a coat, so that a point on the bare steel does not follow it")
    return found


def coat_told(order: int | None) -> str:
    return f"coat {order}" if order else "bare steel"


def lead_told(line: PlanLine) -> str:
    return f"{line.lead} {'d' if line.lead_unit == LeadUnit.DAYS else 'h'}" if line.lead else ""


def lead_read(text: str) -> tuple[int | None, str]:
    """`48 h` or `2 d` as amount and unit; none for nothing. Raises Refused for what cannot be read."""
    if not text.strip():
        return None, ""
    read = _LEAD.fullmatch(text.strip())
    if read is None:
        raise Refused(
            f"“{text[:20]}” is no lead time; write 48 h for working hours or 2 d for working days.", field="lead"
        )
    return int(read[1]), LeadUnit.DAYS if read[2][0].casefold() == "d" else LeadUnit.HOURS
