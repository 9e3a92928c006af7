"""Storing cut tests: ratings on one scale, judged by the worst that the contract allows."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from inspection.fieldwork.cuttest.models import CutTestRecord
from inspection.fieldwork.tested import AsTested
from inspection.foundation.refusals import Fault
from inspection.standards.adhesion_x_cut import ASTM, ASTM_ABOVE_UM

JUDGED = (
    "scale", "worst_rating", "cuts_wanted", "dry_film_um", "spacing_mm", "spacing_agreed", "substrate", "textured",
)  # fmt: skip


def _given(record: CutTestRecord) -> tuple[str, dict[str, Any]]:
    sent = record.observed
    cuts = [{"place": cut["place"], "rating": cut["rating"]} for cut in sent.get("cuts", ())]
    return "adhesion-cut-ratings", {name: sent[name] for name in JUDGED if name in sent} | {"cuts": cuts}


def _figures(record: CutTestRecord) -> None:
    record.scale, record.worst = record.observed["scale"], record.result["worst"]
    record.reading_count = len(record.observed["cuts"])


def _faults(record: CutTestRecord) -> Iterable[Fault]:
    for row, cut in enumerate(record.observed.get("cuts", ()), start=1):
        if not cut.get("place") or not cut.get("rating"):
            yield Fault("Give the place of the cut and its rating.", "cuts", row)


def _doubts(record: CutTestRecord) -> Iterable[Fault]:
    sent = record.observed
    if sent["scale"] == ASTM and sent["dry_film_um"] <= ASTM_ABOVE_UM:
        yield Fault(
            "ASTM D3359 method A is meant mainly for films above 125 µm; up to there method B is usual.", "scale"
        )
    if "edition" not in sent:
        yield Fault("The edition is not given; keep scale and edition with every rating.", "edition")


CUT_TEST = AsTested(
    model=CutTestRecord, title="cut test", given=_given, figures=_figures, faults=_faults, doubts=_doubts,
)  # fmt: skip
