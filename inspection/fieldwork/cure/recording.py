"""Storing cure tests: places with a rating, a pencil, readings, or as agreed or not; each method has its rule."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from inspection.fieldwork.cure.models import CureRecord
from inspection.fieldwork.tested import AsTested, Unjudged, told
from inspection.foundation.refusals import Fault
from inspection.instruments.models import Gauge
from inspection.standards.cure_tests import PENCILS

ZINC, ORGANIC, PENCIL = "ASTM D4752", "ASTM D5402", "ASTM D3363"
INDENTED = ("Barcol", "Shore A", "Shore D")
RUBS = (ZINC, ORGANIC)
# Hardness is a kind of its own; what was recorded here before it was stays, and may be corrected.
HARDNESS_METHODS = (PENCIL, *INDENTED)
METHODS = (*RUBS, *HARDNESS_METHODS)
# What a place is given by, in each method.
GIVEN_BY = {ZINC: "rating", ORGANIC: "as_agreed", PENCIL: "pencil"} | dict.fromkeys(INDENTED, "readings")
ALL_GIVEN = frozenset(GIVEN_BY.values())
WRITTEN = {
    "rating": "a whole rating from 0 to 5", "as_agreed": "yes or no", "pencil": "a pencil from 6B to 6H",
    "readings": "the readings",
}  # fmt: skip


def _places(record: CureRecord) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = record.observed.get("places", [])
    return found


def _faults(record: CureRecord) -> Iterable[Fault]:
    """A method that is not known, a place without a name or without what the method asks, a limit of another method."""
    method = record.observed.get("method")
    if method not in METHODS:
        yield Fault(f"Give one of {', '.join(RUBS)}.", "method")
        return
    if method in HARDNESS_METHODS and not _is_of_before(record):
        yield Fault(f"{method} tells hardness: record it as a hardness test. Here are {' and '.join(RUBS)}.", "method")
        return
    if not _places(record):
        yield Fault("Give the places that were tested.", "places")
    wanted = GIVEN_BY[method]
    for row, place in enumerate(_places(record), start=1):
        if not place.get("place"):
            yield Fault("Say where it was tested.", "places", row)
        if ALL_GIVEN & place.keys() != {wanted}:
            yield Fault(f"By {method} give {WRITTEN[wanted]} for each place, and nothing else.", "places", row)
        elif wanted == "rating" and not (type(place["rating"]) is int and 0 <= place["rating"] <= 5):
            yield Fault(f"{told(place['rating'])} is no rating of ASTM D4752: 5 best to 0.", "places", row)
        elif wanted == "pencil" and place["pencil"] not in PENCILS:
            yield Fault(f"{place['pencil']} is no pencil of the scale: {', '.join(PENCILS)}.", "places", row)
    least = record.observed.get("least")
    if least is not None and (method == PENCIL) != (least in PENCILS) and method != ORGANIC:
        wanted = f"one of {', '.join(PENCILS)}" if method == PENCIL else "a number"
        yield Fault(f"The least of {method} is {wanted}.", "least")


def _is_of_before(record: CureRecord) -> bool:
    """Whether it is stored already, sent once more, or corrects one by a method that is a hardness test now."""
    replaces = record.replaces
    if replaces is not None:
        return CureRecord.objects.filter(pk=replaces.pk, method__in=HARDNESS_METHODS).exists()
    return CureRecord.objects.filter(pk=record.pk).exists()


def _given(record: CureRecord) -> tuple[str, dict[str, Any]]:
    sent, places = record.observed, _places(record)
    method, least = sent["method"], {"least": sent["least"]} if "least" in sent else {}
    if method == ZINC:
        if "least" not in sent:
            raise Unjudged("No least rating of the contract was given, so the ratings were not judged.")
        ratings = [place["rating"] for place in places]
        rubs = {"double_rubs": sent["double_rubs"]} if "double_rubs" in sent else {}
        return "solvent-rub", {"ratings": ratings, "least_rating": sent["least"], **rubs}
    if method == ORGANIC:
        names = ("solvent", "double_rubs", "agreed_double_rubs", "agreed_result")
        kept = [{"place": place["place"], "as_agreed": place["as_agreed"]} for place in places]
        return "solvent-rub-agreed", {name: sent[name] for name in names if name in sent} | {"places": kept}
    if method == PENCIL:
        return "pencil-hardness", {"places": [{"pencil": place["pencil"]} for place in places], **least}
    kept = [{"readings": place["readings"]} for place in places]
    return "indentation-hardness", {"method": method, "places": kept, **least}


def _figures(record: CureRecord) -> None:
    places, method = _places(record), record.observed["method"]
    record.method, record.reading_count = method, len(places)
    if method == ZINC:
        found = f"lowest rating {min(place['rating'] for place in places)}"
    elif method == ORGANIC:
        found = f"{sum(place['as_agreed'] for place in places)} of {len(places)} places as agreed"
    elif method == PENCIL:
        found = f"softest {min((place['pencil'] for place in places), key=PENCILS.index)}"
    else:
        found = f"lowest mean {record.result['lowest']:.4g}"
    record.found = f"{method}, {found}"


def _doubts(record: CureRecord) -> Iterable[Fault]:
    sent = record.observed
    if "cured_h" not in sent:
        yield Fault("It is not said how long the film had cured.", "cured_h")
    if sent["method"] == ZINC and sent.get("solvent", "MEK").upper() not in ("MEK", "BUTANONE"):
        yield Fault("ASTM D4752 rubs with MEK (stored source); another solvent was used.", "solvent")


CURE = AsTested(
    model=CureRecord, title="cure test", instrument=Gauge.Kind.HARDNESS, given=_given, figures=_figures, faults=_faults,
    doubts=_doubts, fields={"ratings": "places", "least_rating": "least"},
)  # fmt: skip
