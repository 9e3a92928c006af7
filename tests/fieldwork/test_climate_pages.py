"""Recording climate on a page, the list, and the page of one record."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inspection.fieldwork.models import ClimateRecord
from inspection.foundation.ids import new_id
from inspection.projects.models import Project
from tests.cast import Cast
from tests.fieldwork.build import correct_by_page
from tests.fieldwork.test_sheet_pages import ines, words

__all__ = ["ines"]


def typed(cast: Cast, **changes: str) -> dict[str, str]:
    return {
        "id": str(new_id()),
        "area": str(cast.site.area.pk),
        "coat": str(cast.site.coats[0].pk),
        "taken_at": "2026-03-04T08:30",
        "dry_bulb_c": "20",
        "wet_bulb_c": "15,0",
        "relative_humidity_pct": "",
        "surface_c": "18.0",
        "pressure_hpa": "1013.25",
        **changes,
    }


def record(client: Client, cast: Cast, query: str = "", **changes: str) -> Any:
    address = reverse("climate_new", args=[cast.site.project.pk]) + query
    return (correct_by_page if query else Client.post)(client, address, typed(cast, **changes))


def confirmed(client: Client, cast: Cast, asked: Any, **changes: str) -> Any:
    """The same again, with the button of the question pressed."""
    (answer,) = re.findall(r'name="confirmed" value="([^"]*)"', asked.content.decode())
    return record(client, cast, confirmed=answer, **changes)


def test_dew_point_margin_and_every_check_are_shown(ines: Client, cast: Cast) -> None:
    page = words(ines.get(record(ines, cast).url))
    # WMO-No. 8, Magnus constants over water, psychrometer coefficient 0.000662: 58.6 %, 11.6 °C.
    assert "Dew point 11.6 °C Steel above it by 6.4 °C Relative humidity 58.6 %" in page
    assert "Within the limits" in page
    assert "least this much warmer than the dew point" in page


@pytest.mark.parametrize(
    ("steel", "doubted"), [("68", True), ("60.1", True), ("60", False), ("18", False), ("-20.1", True)]
)
def test_steel_far_from_the_air_is_stored_with_a_doubt_of_the_unit(
    ines: Client, cast: Cast, steel: str, doubted: bool
) -> None:
    """Air at 20 °C. That 40 °C apart is doubted is our own limit, no source."""
    answer = record(ines, cast, surface_c=steel)
    if answer.status_code == 422:
        assert not ClimateRecord.objects.exists()
        assert ("check that both were typed in °C" in words(answer)) is doubted
        answer = confirmed(ines, cast, answer, surface_c=steel)
    else:
        assert not doubted
    page = words(ines.get(answer.url))
    assert ("check that both were typed in °C" in page) is doubted
    assert ("our own limit; no standard gives one" in page) is doubted
    assert ClimateRecord.objects.count() == 1


def test_degrees_fahrenheit_are_asked_about_before_they_are_stored(ines: Client, cast: Cast) -> None:
    """57 °F are 13.9 °C: (57 - 32) / 1.8."""
    fahrenheit = {"dry_bulb_c": "57", "wet_bulb_c": "", "relative_humidity_pct": "71", "surface_c": "55"}
    asked = record(ines, cast, **fahrenheit)
    assert asked.status_code == 422
    assert "57.0 °F are 13.9 °C" in words(asked)
    assert not ClimateRecord.objects.exists()
    # An answer holds for the figures it was given for.
    assert confirmed(ines, cast, asked, **{**fahrenheit, "dry_bulb_c": "58"}).status_code == 422
    page = words(ines.get(confirmed(ines, cast, asked, **fahrenheit).url))
    assert "57.0 °F are 13.9 °C" in page
    assert record(ines, cast, dry_bulb_c="40", wet_bulb_c="25", surface_c="41").status_code == 302


def test_frost_is_told_before_it_is_stored(ines: Client, cast: Cast) -> None:
    cold = {"dry_bulb_c": "2", "wet_bulb_c": "", "relative_humidity_pct": "50", "surface_c": "0"}
    asked = record(ines, cast, **cold)
    assert "look for frost and ice" in words(asked)
    assert not ClimateRecord.objects.exists()
    assert confirmed(ines, cast, asked, **cold).status_code == 302


def test_climate_asks_for_which_coat(ines: Client, cast: Cast) -> None:
    page = words(ines.get(reverse("climate_new", args=[cast.site.project.pk])))
    assert "For which coat" in page
    assert "After which coat" not in page


def test_a_figure_out_of_bounds_is_told_together_with_one_that_cannot_be_read(ines: Client, cast: Cast) -> None:
    changes = {"dry_bulb_c": "warm", "wet_bulb_c": "", "relative_humidity_pct": "101", "surface_c": "900"}
    answer = record(ines, cast, **changes)
    assert answer.status_code == 422
    assert set(answer.context["form"].errors) == {"dry_bulb_c", "relative_humidity_pct", "surface_c"}
    assert "Relative humidity, %: must be at most 100 %" in words(answer)


def test_the_time_is_the_projects_own(ines: Client, cast: Cast) -> None:
    Project.objects.filter(pk=cast.site.project.pk).update(time_zone="Asia/Tokyo")
    record(ines, cast)
    assert f"{ClimateRecord.objects.get().taken_at:%Y-%m-%d %H:%M}" == "2026-03-03 23:30"
    assert "Taken 2026-03-04 08:30" in words(ines.get(reverse("climate", args=[ClimateRecord.objects.get().pk])))


def test_sending_the_form_twice_stores_one_record(ines: Client, cast: Cast) -> None:
    body = typed(cast)
    address = reverse("climate_new", args=[cast.site.project.pk])
    assert ines.post(address, body).url == ines.post(address, body).url
    assert ClimateRecord.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"dry_bulb_c": ""}, "This field is required"),
        ({"dry_bulb_c": "warm"}, "Enter a number"),
        ({"dry_bulb_c": "18.55"}, "no more than 1 decimal place"),
        ({"dry_bulb_c": "500"}, "must be at most 60 °C"),
        ({"dry_bulb_c": "99999"}, "no more than 4 digits"),
        ({"wet_bulb_c": "25"}, "cannot be above the air temperature"),
        ({"wet_bulb_c": ""}, "give one of wet bulb, relative humidity"),
        ({"wet_bulb_c": "", "relative_humidity_pct": "71%"}, "without a % sign, such as 71"),
        ({"wet_bulb_c": "", "relative_humidity_pct": "0.71"}, "reads as a share of one"),
        ({"wet_bulb_c": "", "relative_humidity_pct": "0,7"}, "in per cent, such as 71"),
        ({"relative_humidity_pct": "60"}, "give only one of wet bulb"),
        ({"wet_bulb_c": "", "relative_humidity_pct": "-5"}, "must be more than 0"),
        ({"dry_bulb_c": "1", "wet_bulb_c": "-1"}, "say whether the wet bulb carries water or ice"),
        ({"taken_at": "2999-01-01T00:00"}, "lies in the future"),
        ({"taken_at": "1999-01-01T00:00"}, "is too long ago"),
        ({"taken_at": "noon"}, "Enter a valid date"),
        ({"pressure_hpa": "5"}, "must be at least 500 hPa"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_typed_is_lost(
    ines: Client, cast: Cast, changes: dict[str, str], said: str
) -> None:
    answer = record(ines, cast, note="windy corner", **changes)
    assert answer.status_code == 422
    assert said in words(answer)
    assert "windy corner" in answer.content.decode()
    assert not ClimateRecord.objects.exists()


def test_a_record_is_corrected_once(ines: Client, cast: Cast) -> None:
    record(ines, cast)
    old = ClimateRecord.objects.get()
    query = f"?replaces={old.pk}"
    form = ines.get(reverse("climate_new", args=[cast.site.project.pk]) + query).content.decode()
    assert 'value="2026-03-04T08:30:00"' in form
    assert record(ines, cast, query, surface_c="17").status_code == 422
    assert record(ines, cast, query, surface_c="17", replacement_reason="misread").status_code == 302
    answer = record(ines, cast, query, surface_c="16", replacement_reason="misread")
    assert answer.status_code == 422
    assert "corrected this record already" in words(answer)
    assert "This version was replaced: misread" in words(ines.get(reverse("climate", args=[old.pk])))


def test_the_list_takes_no_more_queries_for_more_rows(
    ines: Client, cast: Cast, django_assert_max_num_queries: Any
) -> None:
    for count in (3, 27):
        for _ in range(count):
            record(ines, cast)
        with django_assert_max_num_queries(10):
            assert ines.get(reverse("climate_list")).status_code == 200


def test_the_client_reads_but_does_not_record_and_the_stranger_finds_nothing(client: Client, cast: Cast) -> None:
    client.force_login(cast.ines)
    record(client, cast)
    address = reverse("climate", args=[ClimateRecord.objects.get().pk])
    client.force_login(cast.clara)
    assert client.get(address).status_code == 200
    assert record(client, cast).status_code == 403
    client.force_login(cast.igor)
    assert client.get(address).status_code == 404
    assert record(client, cast).status_code == 404
    assert address not in client.get(reverse("climate_list")).content.decode()
