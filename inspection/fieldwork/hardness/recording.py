"""Storing hardness tests: places with pencils, dents or readings; each method has its rule and its own scale."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from inspection.fieldwork.hardness.models import HardnessRecord
from inspection.fieldwork.tested import AsTested, told
from inspection.foundation.refusals import Fault
from inspection.instruments.models import Gauge
from inspection.standards.cure_tests import PENCILS

GOUGE, SCRATCH, BUCHHOLZ = "ASTM D3363 gouge", "ASTM D3363 scratch", "ISO 2815 Buchholz"
BY_PENCILS = (GOUGE, SCRATCH)
BY_READINGS = ("Barcol", "Shore D", "Shore A")
METHODS = (*BY_PENCILS, BUCHHOLZ, *BY_READINGS)
# What a place is given by, in each method.
GIVEN_BY = dict.fromkeys(BY_PENCILS, "pencils") | {BUCHHOLZ: "lengths_mm"} | dict.fromkeys(BY_READINGS, "readings")
ALL_GIVEN = frozenset(GIVEN_BY.values())
WRITTEN = {
    "pencils": "the pencils, such as H H", "lengths_mm": "the lengths of the dents in mm", "readings": "the readings",
}  # fmt: skip
# Each is done twice (ASTM D3363, stored source).
PENCIL_TRIALS = 2
# Barcol readings are compared near 25 °C (stored source), dents of ISO 2815 at 23 ± 2 °C (stored source).
COMPARED_AT = {"Barcol": (20, 30), BUCHHOLZ: (21, 25)}


def _places(record: HardnessRecord) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = record.observed.get("places", [])
    return found


def softest(pencils: Iterable[str]) -> str:
    return min(pencils, key=PENCILS.index)


def _faults(record: HardnessRecord) -> Iterable[Fault]:
    """A method that is not known, a place without a name or without what the method asks, a limit of another scale."""
    method = record.observed.get("method")
    if method not in METHODS:
        yield Fault(f"Give one of {', '.join(METHODS)}.", "method")
        return
    if not _places(record):
        yield Fault("Give the places that were tested.", "places")
    wanted = GIVEN_BY[method]
    for row, place in enumerate(_places(record), start=1):
        if not place.get("place"):
            yield Fault("Say where it was tested.", "places", row)
        if ALL_GIVEN & place.keys() != {wanted}:
            yield Fault(f"By {method} give {WRITTEN[wanted]} for each place, and nothing else.", "places", row)
        elif wanted == "pencils":
            for pencil in place["pencils"]:
                if pencil not in PENCILS:
                    yield Fault(f"{pencil} is no pencil of the scale: {', '.join(PENCILS)}.", "places", row)
    least = record.observed.get("least")
    if least is not None and (method in BY_PENCILS) != (least in PENCILS):
        yield Fault(f"The least of {method} is {'a pencil, such as H' if method in BY_PENCILS else 'a number'}.",
                    "least")  # fmt: skip


def _given(record: HardnessRecord) -> tuple[str, dict[str, Any]]:
    sent, places = record.observed, _places(record)
    method, least = sent["method"], {"least": sent["least"]} if "least" in sent else {}
    if method in BY_PENCILS:
        return "pencil-hardness", {"places": [{"pencil": softest(place["pencils"])} for place in places], **least}
    kept = [{name: place[name] for name in (GIVEN_BY[method],)} for place in places]
    if method == BUCHHOLZ:
        films = {name: sent[name] for name in ("dry_film_um", "least_film_um") if name in sent}
        return "buchholz-resistance", {"places": kept, **films, **least}
    return "indentation-hardness", {"method": method, "places": kept, **least}


def _figures(record: HardnessRecord) -> None:
    places, method = _places(record), record.observed["method"]
    record.method, record.reading_count = method, len(places)
    if method in BY_PENCILS:
        found = f"softest {softest(softest(place['pencils']) for place in places)}"
    elif method == BUCHHOLZ:
        found = f"lowest resistance {record.result['lowest']:.4g}"
    else:
        found = f"lowest mean {record.result['lowest']:.4g}"
    record.found = f"{method}, {found}"


def _doubts(record: HardnessRecord) -> Iterable[Fault]:
    sent = record.observed
    method = sent["method"]
    if "cured_h" not in sent:
        yield Fault("It is not said how long the film had cured.", "cured_h")
    if method in BY_PENCILS:
        yield from _doubtful_pencils(_places(record))
    if method == BUCHHOLZ and not {"dry_film_um", "least_film_um"} <= sent.keys():
        yield Fault("Dents of ISO 2815 are valid only above a least film; give the film and what its annex asks.",
                    "least_film_um")  # fmt: skip
    if method in COMPARED_AT:
        low, high = COMPARED_AT[method]
        if "steel_c" not in sent:
            yield Fault(f"{method} depends on temperature, and none is given.", "steel_c")
        elif not low <= sent["steel_c"] <= high:
            yield Fault(f"{method} is compared at {low} to {high} °C; this was {told(sent['steel_c'], '°C')}.",
                        "steel_c")  # fmt: skip


def _doubtful_pencils(places: list[dict[str, Any]]) -> Iterable[Fault]:
    for row, place in enumerate(places, start=1):
        ranks = [PENCILS.index(pencil) for pencil in place["pencils"]]
        if len(ranks) < PENCIL_TRIALS:
            yield Fault("ASTM D3363 asks for two trials (stored source).", "places", row)
        elif max(ranks) - min(ranks) > 1:
            yield Fault("The trials differ by more than one pencil; try again.", "places", row)


HARDNESS = AsTested(
    model=HardnessRecord, title="hardness test", instrument=Gauge.Kind.HARDNESS, given=_given, figures=_figures,
    faults=_faults, doubts=_doubts,
)  # fmt: skip
