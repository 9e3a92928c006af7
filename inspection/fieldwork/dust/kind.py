"""Dust as a kind of record."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from inspection.fieldwork.asked import Number, Rows, Words
from inspection.fieldwork.declared import Declared, Given, limits_of
from inspection.fieldwork.dust.models import DustRecord
from inspection.fieldwork.kind import Column, Discipline, Facts, RecordKind, Reliance
from inspection.foundation.refusals import Fault
from inspection.projects.coating import CoatingSystem

# ISO 8502-3 asks at least three tests of a surface (from memory).
TAPES = 3
IMO = "IMO PSPC"

ASKED = (
    Rows(
        name="tapes", label="Tapes, a line for each", one="tape", most=200,
        of=(
            Number(name="quantity", label="Quantity", most=5),
            Number(name="size_class", label="Size class", most=5),
        ),
        help="Place, colon, quantity rating 0 to 5, size class 0 to 5, such as Frame 3: 2 1.",
    ),
    Number(
        name="tapes_wanted", label="Tapes asked for", least=1, most=1000, required=False,
        help=f"Empty: {TAPES}, as ISO 8502-3 asks of a surface (from memory).",
    ),
    Words(name="pressed_by", label="Pressed by", required=False, help="Thumb or roller, and the tape used."),
)  # fmt: skip


def _limits(system: CoatingSystem) -> dict[str, Any]:
    found = limits_of(maximum_quantity=system.dust_max_quantity, maximum_size_class=system.dust_max_size)
    return found or limits_of(rule=IMO if system.of_ballast_tanks else "")


def _given(record: DustRecord) -> Given:
    limits = {name: record.asked_for[name] for name in LIMITS if name in record.asked_for}
    ratings = [{"quantity": tape["quantity"], "size_class": tape["size_class"]} for tape in record.tapes]
    if not limits:
        return Given("", {}, "The coating system of this area gives no limits for dust, so it was not judged.")
    return Given("dust-rating", {**limits, "ratings": ratings, "tapes": record.tapes_wanted or TAPES})


LIMITS = ("rule", "maximum_quantity", "maximum_size_class")


def _found(record: DustRecord) -> None:
    record.worst_quantity = max(tape["quantity"] for tape in record.tapes)
    record.worst_size_class = max(tape["size_class"] for tape in record.tapes)


def _doubts(record: DustRecord) -> Iterator[Fault]:
    for number, tape in enumerate(record.tapes, start=1):
        if bool(tape["quantity"]) != bool(tape["size_class"]):
            yield Fault(
                "A tape without dust has no size, and dust that is seen has one: check both figures "
                "(class 0 is dust not seen under ten times magnification, from memory).",
                "tapes", number,
            )  # fmt: skip


def limits_told(record: DustRecord) -> str:
    asked = record.asked_for
    if "rule" in asked:
        return f"{asked['rule']}: quantity 1 of size classes 3 to 5"
    told = [f"{words} at most {asked[name]}" for name, words in (("maximum_quantity", "quantity"),
            ("maximum_size_class", "size class")) if name in asked]  # fmt: skip
    return ", ".join(told) or "no limits specified"


def _facts(record: DustRecord) -> Facts:
    found = f"quantity {record.worst_quantity}, size class {record.worst_size_class}"
    return [("Greatest", found), ("Specified", limits_told(record)), *DECLARED.facts(record)]


DECLARED = Declared(
    model=DustRecord,
    one="dust record",
    asked=ASKED,
    limits=_limits,
    given=_given,
    doubts=_doubts,
    told=lambda record: {"tapes": len(record.tapes), "quantity": record.worst_quantity},
    fields={"ratings": "tapes", "tapes": "tapes_wanted"},
    consumable="tape",
    found=_found,
)

KIND = RecordKind(
    name=DustRecord.KIND,
    title="Dust",
    one=DECLARED.one,
    many="dust records",
    lead="What tapes lifted off prepared steel, by quantity and size.",
    model=DustRecord,
    instrument=None,
    reliance=Reliance.SEEN,
    discipline=Discipline.PREPARATION,
    of_coat="",
    columns=(
        Column("Tapes", lambda record: str(len(record.tapes)), is_number=True),
        Column("Quantity", lambda record: str(record.worst_quantity), is_number=True),
        Column("Size class", lambda record: str(record.worst_size_class), is_number=True),
    ),
    sentence=lambda record: (
        f"{len(record.tapes)} tape{'s' if len(record.tapes) > 1 else ''}, "
        f"quantity at most {record.worst_quantity}, size class at most {record.worst_size_class}"
    ),
    facts=_facts,
    digest=DECLARED.digest,
    verdict=DECLARED.verdict,
    warnings=DECLARED.warnings,
    doubts=DECLARED.all_doubts,
    parts=DECLARED.parts,
    taken=DECLARED.taken(),
    reach="Ratings are read from the pictures of the standard, by eye. Tape does not reach into deep pits.",
    caution="Dust of blasting is not to be breathed, least of all from old coatings: mask and gloves, by local rules.",
)
