"""Abrasive as a kind of record."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from inspection.fieldwork.abrasive.models import AbrasiveRecord
from inspection.fieldwork.asked import Choice, Number, Rows, Words, plain
from inspection.fieldwork.declared import Declared, Given
from inspection.fieldwork.kind import Column, Discipline, Facts, RecordKind, Reliance
from inspection.foundation.refusals import Fault
from inspection.instruments.models import Gauge
from inspection.standards.surface import BY_D4940, BY_ISO, NOT_LOOKED

METHODS = {AbrasiveRecord.Method.D4940: BY_D4940, AbrasiveRecord.Method.ISO_11127: BY_ISO}
LIMITS = {
    AbrasiveRecord.Limit.AB_1: "SSPC-AB 1", AbrasiveRecord.Limit.ISO_11126: "ISO 11126",
    AbrasiveRecord.Limit.DECLARED: "declared",
}  # fmt: skip
US_CM_PER_MS_M = 10
# ISO 11126 and SSPC-AB 1 allow no more than 1000 µS/cm; ten times that is more often a slip of unit. Our own limit.
DOUBTED_US_CM = 2_000

ASKED = (
    Words(name="product", label="Abrasive", help="As its maker names it, with its size."),
    Words(name="delivery", label="Delivery or batch"),
    Choice(name="use", label="New or recycled", choices=AbrasiveRecord.Use.choices),
    Choice(
        name="method", label="Method", choices=AbrasiveRecord.Method.choices,
        help="Results of the two methods are not converted into each other.",
    ),
    Choice(name="conductivity_unit", label="Conductivities are in", choices=AbrasiveRecord.Unit.choices,
           help="1 mS/m is 10 µS/cm."),
    Number(name="water", label="Water before", most=1000, places=2, help="D4940 asks at most 5 µS/cm."),
    Rows(
        name="leachates", label="Leachates, a line for each", one="leachate", most=100,
        of=(Number(name="conductivity", label="Conductivity", most=1_000_000, places=2),),
        help="The water in which the abrasive was shaken: sample, colon, conductivity, such as Hopper: 186. Two each.",
    ),
    Choice(name="limit", label="Limit", choices=AbrasiveRecord.Limit.choices, help="By the specification."),
    Number(name="limit_us_cm", label="Declared limit", unit="µS/cm", least=1, most=1_000_000, places=2, required=False),
    Choice(
        name="oil", label="Oil in the vial", choices=AbrasiveRecord.Oil.choices, required=False,
        help="On or in the water after ten minutes of standing.",
    ),
    Words(name="papers", label="Papers", required=False, help="Declaration or certificate that came with it."),
)  # fmt: skip


def _us_cm(record: AbrasiveRecord, value: Any) -> int | float:
    return plain(plain(value) * (US_CM_PER_MS_M if record.conductivity_unit == AbrasiveRecord.Unit.MS_M else 1))


def _read(record: AbrasiveRecord) -> list[int | float]:
    return [_us_cm(record, each["conductivity"]) for each in record.leachates]


def _given(record: AbrasiveRecord) -> Given:
    declared = {} if record.limit_us_cm is None else {"limit_us_cm": plain(record.limit_us_cm)}
    return Given(
        "abrasive-conductivity",
        {
            "means_us_cm": _read(record), "water_us_cm": _us_cm(record, record.water),
            "method": METHODS[AbrasiveRecord.Method(record.method)],
            "limit": LIMITS[AbrasiveRecord.Limit(record.limit)], "oil": record.oil or NOT_LOOKED, **declared,
        },
    )  # fmt: skip


def _found(record: AbrasiveRecord) -> None:
    read = _read(record)
    record.mean_us_cm = sum(read) / len(read)


def _doubts(record: AbrasiveRecord) -> Iterator[Fault]:
    if max(_read(record)) > DOUBTED_US_CM:
        yield Fault(f"More than {DOUBTED_US_CM} µS/cm is doubted (our own limit). Check the unit.", "leachates")
    if not record.oil:
        yield Fault("Nobody looked for oil, which conductivity does not tell.", "oil")


def _facts(record: AbrasiveRecord) -> Facts:
    return [("Mean conductivity", f"{record.mean_us_cm:.1f} µS/cm"), *DECLARED.facts(record)]


DECLARED = Declared(
    model=AbrasiveRecord,
    one="abrasive record",
    asked=ASKED,
    limits=lambda system: {},
    given=_given,
    doubts=_doubts,
    told=lambda record: {"delivery": record.delivery, "mean_us_cm": record.mean_us_cm},
    fields={"means_us_cm": "leachates", "water_us_cm": "water"},
    instrument=Gauge.Kind.SALTS,
    found=_found,
)

KIND = RecordKind(
    name=AbrasiveRecord.KIND,
    title="Abrasive",
    one=DECLARED.one,
    many="abrasive records",
    lead="Whether the abrasive brings salts or oil to the steel, by delivery or batch.",
    model=AbrasiveRecord,
    instrument=Gauge.Kind.SALTS,
    reliance=Reliance.CERTIFIED,
    discipline=Discipline.PREPARATION,
    of_coat="",
    columns=(
        Column("Delivery", lambda record: record.delivery),
        Column("Mean", lambda record: f"{record.mean_us_cm:.1f} µS/cm", is_number=True),
    ),
    sentence=lambda record: f"{record.product}, {record.delivery}: mean {record.mean_us_cm:.1f} µS/cm",
    facts=_facts,
    digest=DECLARED.digest,
    verdict=DECLARED.verdict,
    warnings=DECLARED.warnings,
    doubts=DECLARED.all_doubts,
    parts=DECLARED.parts,
    taken=DECLARED.taken(),
    reach="It speaks of the sample. It is recorded at the area that is blasted with it; a point on another area asks "
    "for its own.",
    caution="Abrasive dust chokes and cuts, and some abrasives hold silica or heavy metals: mask and gloves, by local "
    "rules.",
)
