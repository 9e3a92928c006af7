"""Compressed air as a kind of record."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from inspection.fieldwork.air.models import AirRecord
from inspection.fieldwork.asked import Choice, Number, Words, plain
from inspection.fieldwork.declared import Declared, Given
from inspection.fieldwork.kind import Column, Discipline, RecordKind, Reliance
from inspection.foundation.refusals import Fault

ASKED = (
    Words(name="compressor", label="Compressor", help="By its number."),
    Words(name="outlet", label="Outlet", required=False, help="Where the collector was held, such as the blast hose."),
    Choice(name="oil", label="Oil on the collector", choices=AirRecord.Seen.choices),
    Choice(name="water", label="Water on the collector", choices=AirRecord.Seen.choices),
    Number(name="held_s", label="Held in the air for", unit="s", least=1, most=36_000, help="At least 60 s."),
    Number(
        name="distance_cm", label="Distance from the outlet", unit="cm", most=1000, places=1,
        help="At most 61 cm (24 in).",
    ),
    Number(
        name="running_h", label="Operating hours since the last test or start", unit="h", most=1000, places=1,
        required=False,
    ),
    Number(
        name="every_h", label="Tested every", unit="h", least=1, most=1000, places=1, required=False,
        help="By the specification; UFGS 09971 asks for it at each start and every five operating hours.",
    ),
)  # fmt: skip


def _given(record: AirRecord) -> Given:
    hours = {name: plain(getattr(record, name)) for name in ("running_h", "every_h") if getattr(record, name)}
    return Given(
        "air-blotter",
        {"oil": record.oil, "water": record.water, "held_s": record.held_s,
         "distance_cm": plain(record.distance_cm), **hours},
    )  # fmt: skip


def _doubts(record: AirRecord) -> Iterator[Fault]:
    for name, words in (("held_s", "Held for less"), ("distance_cm", "Further than")):
        yield from (Fault(note, name) for note in record.result.get("notes", ()) if note.startswith(words))


def _found(record: AirRecord) -> str:
    seen = [what for what in ("oil", "water") if getattr(record, what) == AirRecord.Seen.YES]
    return f"{' and '.join(seen)} seen" if seen else "clean"


def _told(record: AirRecord) -> dict[str, Any]:
    return {"compressor": record.compressor, "found": _found(record)}


DECLARED = Declared(
    model=AirRecord,
    one="compressed air record",
    asked=ASKED,
    limits=lambda system: {},
    given=_given,
    doubts=_doubts,
    told=_told,
    fields={},
    consumable="collector",
)

KIND = RecordKind(
    name=AirRecord.KIND,
    title="Compressed air",
    one=DECLARED.one,
    many="compressed air records",
    lead="Whether the air that blasts and blows off is free of oil and water, by compressor and day.",
    model=AirRecord,
    instrument=None,
    reliance=Reliance.SEEN,
    discipline=Discipline.PREPARATION,
    of_coat="",
    columns=(Column("Compressor", lambda record: record.compressor), Column("Collector", _found)),
    sentence=lambda record: f"{record.compressor}: collector {_found(record)}",
    facts=DECLARED.facts,
    digest=DECLARED.digest,
    verdict=DECLARED.verdict,
    warnings=DECLARED.warnings,
    doubts=DECLARED.all_doubts,
    taken=DECLARED.taken(),
    reach="It speaks of this compressor and outlet at this moment. It is recorded at the area that is worked with it; "
    "a point on another area asks for its own.",
    caution="Air at pressure tears skin and eyes: hold the collector on a stiff backing, stand aside, protect your "
    "eyes. Local rules come first.",
)
