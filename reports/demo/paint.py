"""The bridge's paint: a delivery, a batch in quarantine, one whose shelf life its maker extended, and two mixes."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import TYPE_CHECKING

from inspection.foundation.ids import new_id
from inspection.projects import sheets
from inspection.projects.models import Coat, Project
from inspection.works.models import PaintBatch
from inspection.works.paint import batches, mixes
from inspection.works.paint.reckoning import PartSent

if TYPE_CHECKING:
    from reports.demo.story import Story

PRIMER = "Zinc-rich epoxy primer"
# Component, number, litres, days until it expires from the last day of the story.
DELIVERED = (
    ("base", "ZA-2207", 120, 190), ("hardener", "ZB-1131", 30, -4), ("base", "ZA-2208", 120, 190),
    ("thinner", "T-0455", 25, 700),
)  # fmt: skip
POT_LIFE = ((10, 8), (20, 5), (30, 3))


def play(story: Story, project: Project) -> None:
    with story.at(story.moment(0, "06:30")):
        coat = _sheet_chosen(story, project)
        batch = _delivered(story, project)
    with story.at(story.moment(0, "07:10")):
        _mixed(story, project, coat, batch)


def _sheet_chosen(story: Story, project: Project) -> Coat:
    tove, coat = story.person["tove"], Coat.objects.get(system__project=project, order=1)
    rows = [sheets.SheetRow(temperature_c=Decimal(at), pot_life_hours=Decimal(hours)) for at, hours in POT_LIFE]
    sheet = sheets.record_sheet(
        tove, project=project, rows=rows, product=PRIMER, revision="2026-02", mixing_by_volume="4:1",
        mixing_tolerance_pct=Decimal(5), induction_minutes=15, thinner="Thinner 12", thinner_max_pct=Decimal(5),
    )  # fmt: skip
    sheets.choose_sheet(tove, coat=coat, data_sheet=sheet, reason="As delivered")
    return Coat.objects.select_related("system", "data_sheet").get(pk=coat.pk)


def _delivered(story: Story, project: Project) -> dict[str, PaintBatch]:
    """The foreman enters the delivery; the hardener came with a letter, one base with dented tins."""
    mikkel, priya, found = story.person["mikkel"], story.person["priya"], {}
    for component, number, litres, days in DELIVERED:
        found[number], _ = batches.receive_batch(
            mikkel, id=new_id(), project=project, component=component, number=number, received=Decimal(litres),
            product="Thinner 12" if component == "thinner" else PRIMER, unit="l", containers=1 if days > 365 else 10,
            expires_on=story.day(-days), received_at=story.moment(0, "06:10"), received_by=mikkel.name,
            place="Container by the north abutment", storage_min_c=Decimal(5), storage_max_c=Decimal(35),
            confirmed=True,
        )  # fmt: skip
    batches.extend_batch(
        priya, batch=found["ZB-1131"], id=new_id(), dated=story.day(6), expires_on=story.day(-80),
        reference="Maker’s letter 114", why="Retested by the maker: viscosity and amine value in order",
    )  # fmt: skip
    batches.quarantine_batch(
        priya, batch=found["ZA-2208"], id=new_id(), why="Four of ten tins dented, one of them leaking"
    )
    return found


def _mixed(story: Story, project: Project, coat: Coat, batch: dict[str, PaintBatch]) -> None:
    """Two whole kits in order; then one of the batch in quarantine, which the foreman tells with the reason."""
    mikkel, mixed_at = story.person["mikkel"], story.moment(0, "06:50")
    first = mixes.MixSent(
        coat=coat, mixed_at=mixed_at, stirred="power", paint_c=Decimal(16),
        parts=[PartSent(batch["ZA-2207"], containers=2), PartSent(batch["ZB-1131"], containers=2)],
    )  # fmt: skip
    mixes.record_mix(mikkel, id=new_id(), project=project, sent=first)
    second = replace(
        first, mixed_at=mixed_at + timedelta(minutes=15), reason="Taken from the wrong stack; kept apart, not sprayed",
        parts=[PartSent(batch["ZA-2208"], containers=1), PartSent(batch["ZB-1131"], containers=1)],
    )  # fmt: skip
    mixes.record_mix(mikkel, id=new_id(), project=project, sent=second, confirmed=True)
