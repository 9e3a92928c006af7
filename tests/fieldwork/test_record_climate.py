"""Storing a climate record with its dew point, margin and verdict."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import pytest
from django.http import Http404

from accounts.models import JournalEntry
from inspection.fieldwork.actions import record_climate
from inspection.fieldwork.models import ClimateRecord
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.standards import calculate
from tests.cast import MORNING, Cast


def climate(cast: Cast, **changes: Any) -> dict[str, Any]:
    return {
        "id": new_id(),
        "project": cast.site.project,
        "area": cast.site.area,
        "coat": cast.site.coats[0],
        "taken_at": MORNING,
        "dry_bulb_c": Decimal("20.0"),
        "wet_bulb_c": Decimal("15.0"),
        "surface_c": Decimal("18.0"),
        **changes,
    }


def test_dew_point_and_margin_are_kept_as_found(cast: Cast) -> None:
    record, new = record_climate(cast.ines, **climate(cast))
    # WMO-No. 8, Magnus constants over water, psychrometer coefficient 0.000662: 58.57 % and 11.63 °C.
    assert new
    assert record.found_humidity_pct == pytest.approx(58.57, abs=0.05)
    assert record.dew_point_c == pytest.approx(11.63, abs=0.02)
    assert record.margin_c == pytest.approx(18 - 11.63, abs=0.02)
    assert record.verdict == "pass"
    assert calculate("climate-limits", record.inputs) == record.result


def test_each_limit_of_the_coat_is_a_check(cast: Cast) -> None:
    # The primer takes steel of 5 to 40 °C, at most 85 % and 3 °C above dew point.
    record, _ = record_climate(
        cast.ines, **climate(cast, wet_bulb_c=None, relative_humidity_pct=Decimal("90.0"), surface_c=Decimal("4.9"))
    )
    failed = {check["name"] for check in record.result["checks"] if not check["passed"]}
    assert failed == {"greatest relative humidity", "least surface temperature", "margin above dew point"}
    assert record.verdict == "fail"


def test_the_same_climate_sent_again_changes_nothing_and_other_content_is_refused(cast: Cast) -> None:
    asked = climate(cast)
    first, _ = record_climate(cast.ines, **asked)
    assert record_climate(cast.ines, **asked) == (first, False)
    with pytest.raises(Conflict):
        record_climate(cast.ines, **{**asked, "surface_c": Decimal("17.0")})
    assert JournalEntry.objects.filter(verb="climate.recorded").count() == 1


def test_a_correction_replaces_once(cast: Cast) -> None:
    old, _ = record_climate(cast.ines, **climate(cast))
    record_climate(cast.ines, **climate(cast, replaces=old, replacement_reason="read the wrong bulb"))
    with pytest.raises(Conflict):
        record_climate(cast.ines, **climate(cast, replaces=old, replacement_reason="again"))
    assert ClimateRecord.objects.count() == 2


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"wet_bulb_c": Decimal("21.0")}, "wet_bulb_c"),
        ({"wet_bulb_c": None}, "wet_bulb_c"),
        ({"relative_humidity_pct": Decimal("50")}, "relative_humidity_pct"),
        ({"wet_bulb_c": None, "relative_humidity_pct": Decimal("101")}, "relative_humidity_pct"),
        ({"wet_bulb_c": None, "relative_humidity_pct": Decimal("-1")}, "relative_humidity_pct"),
        ({"dry_bulb_c": Decimal("2000")}, "dry_bulb_c"),
        ({"dry_bulb_c": Decimal("61")}, "dry_bulb_c"),
        ({"dry_bulb_c": Decimal("NaN")}, "dry_bulb_c"),
        ({"surface_c": Decimal("18.05")}, "surface_c"),
        ({"pressure_hpa": Decimal("101325")}, "pressure_hpa"),
        ({"dry_bulb_c": Decimal("1.0"), "wet_bulb_c": Decimal("-1.0")}, "wet_bulb_over"),
        ({"taken_at": datetime(2999, 1, 1, tzinfo=UTC)}, "taken_at"),
        ({"taken_at": datetime(1999, 1, 1, tzinfo=UTC)}, "taken_at"),
        ({"note": "\ud800"}, "note"),
    ],
)
def test_what_is_wrong_is_said_by_field_and_nothing_is_stored(cast: Cast, changes: dict[str, Any], field: str) -> None:
    with pytest.raises(Refused) as refused:
        record_climate(cast.ines, **climate(cast, **changes))
    assert field in [fault.field for fault in refused.value.faults]
    assert not ClimateRecord.objects.exists()


def test_an_iced_wet_bulb_is_recorded_as_such(cast: Cast) -> None:
    record, _ = record_climate(
        cast.ines,
        **climate(
            cast, dry_bulb_c=Decimal("1.0"), wet_bulb_c=Decimal("-1.0"), wet_bulb_over="ice", surface_c=Decimal("6")
        ),
    )
    assert record.inputs["wet_bulb_over"] == "ice"


def test_a_thickness_gauge_measures_no_climate(cast: Cast) -> None:
    with pytest.raises(Refused, match="no climate meter"):
        record_climate(cast.ines, **climate(cast, gauge=cast.gauge))


def test_the_client_records_nothing_and_the_stranger_finds_nothing(cast: Cast) -> None:
    with pytest.raises(NotAllowed):
        record_climate(cast.clara, **climate(cast))
    with pytest.raises(Http404):
        record_climate(cast.igor, **climate(cast))
