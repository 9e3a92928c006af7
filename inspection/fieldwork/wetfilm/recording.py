"""Storing wet film readings: what the comb showed, held to the film to aim at of the coat under way."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from accounts.models import Person
from inspection.fieldwork.tested import AsTested, Unjudged
from inspection.fieldwork.wetfilm.models import WetFilmRecord
from inspection.foundation.refusals import Fault
from inspection.foundation.units import um
from inspection.works.models import Lot

MOST_READINGS = 500
MOST_UM = 10_000
# A comb has steps of 5 to 25 µm; a finer figure was not read off one (common practice, no source).
STEP_UM = 5
KEPT = ("dry_film_um", "most_dry_film_um", "volume_solids_pct")
NO_AIM = "The coat states neither a nominal nor a least film, so there is none to aim at."


def record_wet_film(by: Person, *, lot: Lot | UUID | None = None, **rest: Any) -> tuple[Any, bool]:
    """Store wet film readings with what they show; True when the record is new. Raises as other tests do."""
    return WET_FILM.record(by, lot=str(getattr(lot, "pk", lot)) if lot else "", **rest)


def _lot_of(record: WetFilmRecord) -> Lot | None:
    named = record.observed.get("lot")
    return Lot.objects.filter(pk=named, project=record.project).first() if named else None


def _faults(record: WetFilmRecord) -> Iterable[Fault]:
    readings = record.observed.get("readings", [])
    if not readings:
        yield Fault("Give at least one reading.", "readings")
    if len(readings) > MOST_READINGS:
        yield Fault(f"Give at most {MOST_READINGS} readings.", "readings")
    for row, reading in enumerate(readings, start=1):
        value = reading.get("um")
        if not isinstance(value, int) or not 0 <= value <= MOST_UM:
            yield Fault(f"Give whole µm from 0 to {MOST_UM:,}, as the last tooth wetted says.", "readings", row)
    yield from _lot_faults(record)


def _lot_faults(record: WetFilmRecord) -> Iterable[Fault]:
    if not record.observed.get("lot"):
        return
    lot = _lot_of(record)
    if lot is None:
        yield Fault("There is no such lot in this project.", "lot")
    elif lot.coat_id != record.coat_id:
        yield Fault(f"{lot} is not of {record.coat.name}.", "lot")
    elif not lot.places.filter(area=record.area).exists():
        yield Fault(f"{lot} is not on {record.area.label}.", "lot")


def _doubts(record: WetFilmRecord) -> Iterable[Fault]:
    for row, reading in enumerate(record.observed["readings"], start=1):
        if reading["um"] % STEP_UM:
            yield Fault(f"{reading['um']} µm is no step of a comb, whose teeth differ by 5 to 25 µm.", "readings", row)
    lot = _lot_of(record)
    if lot and (record.taken_at < lot.begun_at or (lot.ended_at and record.taken_at > lot.ended_at)):
        yield Fault(f"{lot} was not under way then; wet film is read within a minute of application.", "taken_at")


def _given(record: WetFilmRecord) -> tuple[str, dict[str, Any]]:
    """What the rule is given; of a stored record, with the film that was specified when it was taken."""
    limits = {name: record.inputs[name] for name in KEPT if name in record.inputs} if record.inputs else _asked(record)
    if "dry_film_um" not in limits:
        raise Unjudged(NO_AIM)
    sent = record.observed
    thinner = {"thinner_pct": sent["thinner_pct"]} if "thinner_pct" in sent else {}
    return "wet-film-comb", {**limits, **thinner, "readings_um": [reading["um"] for reading in sent["readings"]]}


def _asked(record: WetFilmRecord) -> dict[str, Any]:
    coat = record.coat
    aim, most = coat.nominal_nm or coat.minimum_nm, coat.maximum_nm
    found: dict[str, Any] = {"volume_solids_pct": float(coat.volume_solids_pct)}
    if aim:
        found["dry_film_um"] = float(um(aim))
    return {**found, "most_dry_film_um": float(um(most))} if aim and most else found


def _figures(record: WetFilmRecord) -> None:
    record.lot = _lot_of(record)
    record.lowest_um = min(reading["um"] for reading in record.observed["readings"])
    record.aim_um = record.result.get("aim_um")
    record.low_count = len(record.result.get("low", ()))


WET_FILM = AsTested(
    model=WetFilmRecord, title="wet film", given=_given, figures=_figures, faults=_faults, doubts=_doubts,
    fields={"readings_um": "readings"},
)  # fmt: skip
