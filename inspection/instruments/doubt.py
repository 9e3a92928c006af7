"""What was reported of a gauge and is not settled yet: until a passing check it is shown wherever the gauge is."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, tzinfo
from uuid import UUID

from inspection.instruments.models import Gauge, GaugeIncident

# What people of other organisations read in place of the words: a gauge serves several clients.
UNTOLD = "an incident"


def reported(gauges: Iterable[Gauge]) -> dict[UUID, GaugeIncident]:
    """By gauge id, the newest unsettled incident of each that has one; in one query."""
    rows = GaugeIncident.objects.unsettled().filter(gauge__in=list(gauges)).select_related("gauge").order_by("at", "pk")
    return {row.gauge_id: row for row in rows}


def in_words(at: datetime, what: str, zone: tzinfo) -> str:
    """As it stands beside the gauge, where several can be chosen."""
    return f"{what.rstrip('.')}, {at.astimezone(zone):%Y-%m-%d %H:%M}: check it first"


def beside(gauges: Iterable[Gauge], zone: tzinfo) -> dict[UUID, str]:
    """By gauge id, the words that stand beside each of which something was reported."""
    return {pk: in_words(row.at, row.what, zone) for pk, row in reported(gauges).items()}


def sentences(gauges: Iterable[Gauge], zone: tzinfo) -> list[str]:
    """A whole sentence for each, where the gauges are not named beside it."""
    return [f"{row.gauge}: {in_words(row.at, row.what, zone)}." for row in reported(gauges).values()]
