"""The last look before paint as a kind of record."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from inspection.fieldwork.asked import Choice, MomentAsked, Words
from inspection.fieldwork.declared import Declared, Given, limits_of
from inspection.fieldwork.kind import Column, Discipline, Facts, RecordKind, Reliance
from inspection.fieldwork.look.models import LookRecord
from inspection.foundation.refusals import Fault, Refused
from inspection.projects.coating import CoatingSystem
from inspection.standards.water_jetting import HEAVY, LIGHT, MODERATE, NONE

FLASH_RUST = {
    LookRecord.FlashRust.NONE: NONE, LookRecord.FlashRust.LIGHT: LIGHT, LookRecord.FlashRust.MODERATE: MODERATE,
    LookRecord.FlashRust.HEAVY: HEAVY,
}  # fmt: skip
SECONDS_PER_HOUR = 3_600

ASKED = (
    MomentAsked(name="blasted_at", label="Blast ended at"),
    Choice(
        name="flash_rust", label="Flash rust", choices=LookRecord.FlashRust.choices,
        help="Straight on, within arm’s length, in good light.",
    ),
    Choice(
        name="most_flash_rust", label="Most flash rust allowed", choices=LookRecord.FlashRust.choices, required=False,
        help="By the specification. Empty: none.",
    ),
    Choice(name="contamination", label="Oil, dust or other matter", choices=LookRecord.Seen.choices),
    Choice(name="condensation", label="Water or condensation", choices=LookRecord.Seen.choices),
    Words(name="seen_as", label="What was seen", required=False),
)  # fmt: skip


def _limits(system: CoatingSystem) -> dict[str, Any]:
    return limits_of(within_h=system.first_coat_within_h)


def hours_of(record: LookRecord) -> float:
    """From the end of the blast, by the clock that knows no summer time."""
    return (record.taken_at - record.blasted_at).total_seconds() / SECONDS_PER_HOUR


def _given(record: LookRecord) -> Given:
    if record.blasted_at > record.taken_at:
        raise Refused("The blast cannot have ended after the look.", field="blasted_at")
    return Given(
        "last-look",
        {
            "hours_h": hours_of(record), "flash_rust": FLASH_RUST[LookRecord.FlashRust(record.flash_rust)],
            "most_flash_rust": FLASH_RUST[LookRecord.FlashRust(record.most_flash_rust or "none")],
            "contamination": record.contamination, "condensation": record.condensation, **record.asked_for,
        },
    )  # fmt: skip


def _doubts(record: LookRecord) -> Iterator[Fault]:
    if record.flash_rust in (LookRecord.FlashRust.LIGHT, LookRecord.FlashRust.MODERATE):
        yield Fault("Observers agree poorly on light and moderate: ask a second one, and keep a photograph.",
                    "flash_rust")  # fmt: skip


def _told(record: LookRecord) -> str:
    limit = record.asked_for.get("within_h")
    asked = f", first coat within {limit} h" if limit is not None else ""
    return f"{hours_of(record):.1f} h{asked}"


def _facts(record: LookRecord) -> Facts:
    return [("Since the blast", _told(record)), *DECLARED.facts(record)]


DECLARED = Declared(
    model=LookRecord,
    one="last look",
    asked=ASKED,
    limits=_limits,
    given=_given,
    doubts=_doubts,
    told=lambda record: {"hours": round(hours_of(record), 2), "flash_rust": record.flash_rust},
    fields={"hours_h": "blasted_at"},
)

KIND = RecordKind(
    name=LookRecord.KIND,
    title="Last look before paint",
    one=DECLARED.one,
    many="last looks before paint",
    lead="Prepared steel just before its first coat: is it still what it was?",
    model=LookRecord,
    instrument=None,
    reliance=Reliance.SEEN,
    discipline=Discipline.PREPARATION,
    of_coat="",
    columns=(
        Column("Flash rust", lambda record: record.get_flash_rust_display()),
        Column("Since the blast", lambda record: f"{hours_of(record):.1f} h", is_number=True),
    ),
    sentence=lambda record: (
        f"{_told(record)}; flash rust {record.get_flash_rust_display().lower()}, "
        f"matter {record.contamination}, water {record.condensation}"
    ),
    facts=_facts,
    digest=DECLARED.digest,
    verdict=DECLARED.verdict,
    warnings=DECLARED.warnings,
    doubts=DECLARED.all_doubts,
    taken=DECLARED.taken(),
    reach="The condition decides, not the clock alone: steel can rust within the hours, and be sound after them.",
    caution="Let pressure off hoses first, keep ignition away from solvents, and mind the way in and out of tanks.",
)
