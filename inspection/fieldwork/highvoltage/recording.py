"""Storing a high-voltage holiday test, with when its cautions were confirmed beforehand."""

from __future__ import annotations

from collections.abc import Iterable

from inspection.fieldwork.cautions import confirmed_at
from inspection.fieldwork.highvoltage.models import HighVoltageRecord
from inspection.fieldwork.tested import AsTested
from inspection.fieldwork.wetsponge.recording import counted, given_of, misplaced, moved_or_partly_tested
from inspection.foundation.refusals import Fault
from inspection.instruments.models import Gauge

JUDGED = (
    "dry_film_um", "thinnest_film_um", "standard", "dielectric_strength_kv_per_mm", "voltage_v", "voltmeter_v",
    "earth_proven", "tested_m2", "most_per_m2",
)  # fmt: skip


def _figures(record: HighVoltageRecord) -> None:
    counted(record)
    record.cautions_confirmed_at = confirmed_at(
        record.taken_by, project=record.project, kind=record.KIND, day=record.project.day_of(record.taken_at)
    )


def _doubts(record: HighVoltageRecord) -> Iterable[Fault]:
    yield from moved_or_partly_tested(record)
    sent = record.observed
    strength, thinnest = sent.get("dielectric_strength_kv_per_mm"), sent.get("thinnest_film_um", sent["dry_film_um"])
    if strength and sent["voltage_v"] >= strength * thinnest:
        yield Fault(
            f"{sent['voltage_v']:g} V are more than the thinnest film bears ({strength * thinnest:g} V): sound film "
            "may "
            "have been punctured.",
            "voltage_v",
        )
    if not strength:
        yield Fault(
            "Without the maker’s dielectric strength nobody knows whether the film bears the voltage.",
            "dielectric_strength_kv_per_mm",
        )
    if "cured_h" not in sent:
        yield Fault("It is not said how long the film had cured: retained solvent conducts.", "cured_h")
    if record.cautions_confirmed_at is None and record.replaces_id is None:
        yield Fault("No confirmation of the cautions for high voltage is kept for this person and day.")


HIGH_VOLTAGE = AsTested(
    model=HighVoltageRecord, title="high-voltage test", instrument=Gauge.Kind.HOLIDAY,
    given=lambda record: ("holiday-high-found", given_of(record, JUDGED)), figures=_figures, faults=misplaced,
    doubts=_doubts,
)  # fmt: skip
