"""The figures of a thing as lines of text for the readable part of a bundle; read from rows that are fetched whole."""

from __future__ import annotations

from accounts.units import Unit, in_unit
from inspection.fieldwork.models import ClimateRecord, ThicknessRecord
from inspection.fieldwork.showing import told
from inspection.holdpoints.models import HoldPoint
from inspection.instruments.models import Certificate, Verification

# A record of more readings than a page holds tells how many more stand in its JSON.
MOST_READINGS = 300


def certificate(row: Certificate) -> list[str]:
    k = f"{row.coverage_factor.normalize():f}"
    return [
        f"{value.standard}: {in_unit(value.value_nm or 0, Unit.UM)} µm, "
        f"expanded uncertainty {in_unit(value.expanded_uncertainty_nm or 0, Unit.UM, 2)} µm (k = {k})"
        if value.standard
        else f"Gauge {value.gauge}"
        for value in row.values.all()
    ]


def verification(row: Verification) -> list[str]:
    answers = row.result.get("points", ())
    lines = []
    for point, found in zip(row.points.all(), answers, strict=False):
        names = " + ".join(str(use.certified_value.standard) for use in point.uses.all())
        shown = " ".join(in_unit(nm, Unit.UM) for nm in point.readings_nm)
        lines.append(
            f"{names}, certified {in_unit(point.certified_nm, Unit.UM)} µm: readings {shown}; error "
            f"{found['error_um']:+.2f} µm, tolerance ±{found['tolerance_um']:.2f} µm: {found['verdict']}"
        )
    combined = row.combination.in_words
    return [*lines, f"Accuracy of gauge and standard combined: {combined}"]


def thickness(row: ThicknessRecord) -> list[str]:
    unit = Unit(row.unit)
    lines = []
    for check in row.result.get("checks", ()):
        limit, observed = told(check["limit"], check["observed"], check["unit"], unit)
        lines.append(f"{check['sentence']} Limit {limit}, observed {observed}: {'pass' if check['passed'] else 'fail'}")
    readings = list(row.readings.all())
    spots: dict[int, list[str]] = {}
    for reading in readings[:MOST_READINGS]:
        void = " (void)" if reading.void_reason else ""
        spots.setdefault(reading.spot, []).append(f"{in_unit(reading.value_nm, unit)}{void}")
    shown = "; ".join(" ".join(values) for values in spots.values())
    more = f"; and {len(readings) - MOST_READINGS} more in its JSON" if len(readings) > MOST_READINGS else ""
    subtracted = f", {in_unit(row.correction_nm, unit)} {unit.label} to be subtracted" if row.correction_nm else ""
    return [*lines, f"Readings by spot, in {unit.label}{subtracted}: {shown}{more}"]


def climate(row: ClimateRecord) -> list[str]:
    air = f"Air {row.dry_bulb_c} °C, relative humidity {row.found_humidity_pct:.1f} %"
    return [f"{air}, dew point {row.dew_point_c:.1f} °C, steel {row.surface_c} °C, margin {row.margin_c:.1f} °C"]


def holdpoint(row: HoldPoint) -> list[str]:
    return [
        f"{decision.get_outcome_display()} {decision.at:%Y-%m-%d %H:%M} UTC by {decision.signed_as}"
        + (f": {decision.reason}" if decision.reason else "")
        for decision in row.decisions.all()
    ]
