"""Climate as a kind of record."""

from __future__ import annotations

from typing import Any

from inspection.fieldwork.climate import forms, serializers
from inspection.fieldwork.climate.recording import (
    ALSO_TOLD,
    READ,
    climate_digest,
    doubts_of,
    judged_again,
    record_climate,
    warnings_of,
)
from inspection.fieldwork.kind import Column, Discipline, Facts, RecordKind, Reliance, TakenByForm
from inspection.fieldwork.models import ClimateRecord
from inspection.instruments.models import Gauge


def _sentence(record: ClimateRecord) -> str:
    at = f"Station {record.station.code}: air" if record.station else "Air"
    air = f"{at} {record.dry_bulb_c} °C, relative humidity {record.found_humidity_pct:.1f} %"
    return f"{air}, dew point {record.dew_point_c:.1f} °C, steel {record.surface_c} °C, margin {record.margin_c:.1f} °C"


def more_read(record: ClimateRecord) -> str:
    """What was read beside air and the coldest steel, in one line."""
    told = [
        f"warmest steel {record.warmest_surface_c} °C" if record.warmest_surface_c is not None else "",
        f"wind {record.wind_m_s} m/s" if record.wind_m_s is not None else "",
        f"rain {record.get_rain_display().lower()}" if record.rain else "",
        {True: "dehumidifier runs", False: "dehumidifier stands still", None: ""}[record.dehumidifier_on],
    ]
    return ", ".join(words for words in told if words)


def _facts(record: ClimateRecord) -> Facts:
    read = [
        ("Air, dry bulb", record.dry_bulb_c, "°C"), ("Wet bulb", record.wet_bulb_c, "°C"),
        ("Humidity", record.relative_humidity_pct, "%"), ("Steel", record.surface_c, "°C"),
        ("Steel, warmest", record.warmest_surface_c, "°C"), ("Wind", record.wind_m_s, "m/s"),
        ("Rain", record.get_rain_display(), ""), ("Station", record.station, ""),
        ("Air pressure", record.pressure_hpa, "hPa"), ("Dew point", f"{record.dew_point_c:.1f}", "°C"),
        ("Steel above it by", f"{record.margin_c:.1f}", "°C"),
    ]  # fmt: skip
    return [(label, f"{value} {unit}".strip()) for label, value, unit in read if value is not None]


def _as_recorded(record: ClimateRecord) -> dict[str, Any]:
    told = {name: getattr(record, name) for name in ("taken_at", *READ, *ALSO_TOLD, "note")}
    return {**told, "wet_bulb_over": record.inputs.get("wet_bulb_over", "")}


KIND = RecordKind(
    name=ClimateRecord.KIND,
    title="Climate",
    one="climate record",
    many="climate records",
    lead="Air and steel at one place and time.",
    model=ClimateRecord,
    instrument=Gauge.Kind.CLIMATE,
    reliance=Reliance.NONE,
    discipline=Discipline.COATING,
    of_coat="for",
    columns=(
        Column("Air", lambda record: f"{record.dry_bulb_c} °C", is_number=True),
        Column("Humidity", lambda record: f"{record.found_humidity_pct:.1f} %", is_number=True),
        Column("Steel", lambda record: f"{record.surface_c} °C", is_number=True),
        Column("Dew point", lambda record: f"{record.dew_point_c:.1f} °C", is_number=True),
        Column("Margin", lambda record: f"{record.margin_c:.1f} °C", is_number=True),
    ),
    sentence=_sentence,
    facts=_facts,
    digest=climate_digest,
    verdict=judged_again,
    warnings=warnings_of,
    doubts=doubts_of,
    taken=TakenByForm(
        form=forms.Climate,
        correction=forms.ClimateCorrection,
        record=record_climate,
        as_recorded=_as_recorded,
        sent=serializers.ClimateSent,
        shown=serializers.ClimateSerializer,
        detail=serializers.ClimateDetailSerializer,
        answer=serializers.ClimateAnswer,
        # What the rule calls a limit is no field of the form; its fault belongs to the coat.
        fields=dict.fromkeys(("minimum_margin_c", "maximum_air_c", "maximum_surface_c"), "coat"),
    ),
    reach="For this place and moment; rain, wind and a colder place elsewhere are for the inspector to see.",
    verdicts=tuple(ClimateRecord.VERDICTS),
)
