"""The page leads through the search of SSPC-PA 2 for the extent: next spot, direction, distance, stop.

Eight directions, from memory; steps of 1.5 m (5 ft), stop after two conforming spots in a row or with no further place,
conforming inside the specified limits themselves: SSPC-PA 2, May 2012, clause 8 (stored partial text).
"""

from __future__ import annotations

import math
from typing import Any

import pytest
from django.urls import reverse

from accounts.models import JournalEntry
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.nonconformance import actions
from inspection.nonconformance.extent import found, next_told
from inspection.nonconformance.models import ExtentSpot, Nonconformance
from tests.cast import Cast
from tests.nonconformance.test_answers import runs
from tests.nonconformance.test_by_hand import raised_by
from tests.projects.test_pages import as_person, text_of

pytestmark = pytest.mark.django_db
# The first coat of the cast is specified 60 to 120 µm.
THIN, FITS = ["52", "55", "58"], ["70", "75", "72"]


def spot(by: Any, raised: Nonconformance, readings: list[str] | None = None, **more: Any) -> ExtentSpot:
    return actions.add_spot(by, nonconformance=raised, readings=readings or [], **{"id": new_id(), **more})[0]


def coming(raised: Nonconformance) -> str:
    told = found(raised)
    assert told is not None
    return next_told(told.outcome.next, by_units=told.by_units)


def test_each_direction_goes_on_until_two_in_a_row_conform_and_the_boundary_follows(cast: Cast) -> None:
    raised = runs(cast)
    assert coming(raised) == "Direction 1 (up), 1.5 m"
    spot(cast.ines, raised, THIN)
    assert coming(raised) == "Direction 1 (up), 3 m"
    spot(cast.ines, raised, FITS)
    spot(cast.ines, raised, THIN)
    spot(cast.ines, raised, FITS)
    # One conforming spot between two that do not ends nothing; two in a row end the direction.
    assert coming(raised) == "Direction 1 (up), 7.5 m"
    spot(cast.ines, raised, FITS)
    assert coming(raised) == "Direction 2 (up and right), 1.5 m"
    # 59.9 is below the minimum of 60 although within the 80 % of a spot that the restriction level allows.
    near = spot(cast.ines, raised, ["59.9"], direction=3)
    assert coming(raised).startswith("Direction 2")
    spot(cast.ines, raised, ended="no_place", direction=3)
    with pytest.raises(Refused, match="Direction 3 is finished"):
        spot(cast.ines, raised, FITS, direction=3)
    with pytest.raises(Conflict, match="further out"):
        actions.take_spot_back(cast.ines, spot=near, reason="the wrong frame")
    for direction in (2, 4, 5, 6, 7, 8):
        spot(cast.ines, raised, FITS, direction=direction)
        spot(cast.ines, raised, FITS, direction=direction)
    told = found(raised)
    assert told is not None
    assert told.outcome.finished
    assert told.outcome.boundary is not None
    # The boundary lies one step beyond the outermost nonconforming spot.
    assert [float(point.distance_m or 0) for point in told.outcome.boundary] == [6.0, 1.5, 3.0, 1.5, 1.5, 1.5, 1.5, 1.5]
    assert told.outcome.area_m2 is not None
    assert told.outcome.area_m2 > math.pi * 1.5**2
    with pytest.raises(Conflict, match="The search has ended"):
        spot(cast.ines, raised, FITS)
    last = ExtentSpot.objects.get(direction=8, number=ExtentSpot.objects.count())
    actions.take_spot_back(cast.ines, spot=last, reason="read twice")
    assert coming(raised) == "Direction 8 (up and left), 3 m"
    verbs = JournalEntry.objects.filter(object_id=str(raised.pk)).values_list("verb", flat=True)
    assert {"nonconformance.spot_measured", "nonconformance.spot_taken_back"} <= set(verbs)


def test_the_page_names_the_next_spot_keeps_it_once_draws_it_and_takes_it_back(cast: Cast) -> None:
    raised, client = runs(cast), as_person(cast.ines)
    address = reverse("nonconformance_extent", args=[raised.pk])
    assert "Find how far it reaches" in text_of(client.get(reverse("nonconformance", args=[raised.pk])))
    assert "Direction 1 (up), 1.5 m" in text_of(client.get(address))
    sent = {"id": new_id(), "direction": "1", "readings": "52 55,5; 58", "note": "frame 12"}
    assert [client.post(address, sent).status_code for _ in range(2)] == [302, 302]
    kept = ExtentSpot.objects.get()
    assert (kept.readings_nm, kept.measured_by) == ([52_000, 55_500, 58_000], cast.ines)
    page = text_of(client.get(address))
    assert ("Direction 1 (up), 3 m" in page, "Does not conform" in page, "frame 12" in page) == (True, True, True)
    assert "is not a number" in text_of(client.post(address, {"direction": "1", "readings": "thin"}))
    assert "either the readings" in text_of(client.post(address, {"direction": "1"}))
    drawn = client.get(reverse("nonconformance_extent_drawing", args=[raised.pk]))
    assert (drawn["Content-Type"], b"next" in drawn.content, b"55.2" in drawn.content) == ("image/svg+xml", True, True)
    back = reverse("extent_spot_take_back", args=[kept.pk])
    assert client.post(back, {"reason": "the wrong frame"}).status_code == 302
    page = text_of(client.get(address))
    assert ("Direction 1 (up), 1.5 m" in page, "the wrong frame" in page) == (True, True)
    shown = text_of(as_person(cast.clara).get(address))
    assert ("Direction 1 (up)" in shown, "Keep the spot" in shown) == (True, False)
    assert as_person(cast.carl).get(address).status_code == 404
    general = raised_by(cast.ines, cast, against="project")
    assert client.get(reverse("nonconformance_extent", args=[general.pk])).status_code == 404
    with pytest.raises(NotAllowed):
        spot(cast.clara, raised, FITS)


def test_the_api_tells_what_comes_next_and_units_are_counted_where_the_first_spot_says_so(cast: Cast) -> None:
    raised, client = runs(cast), as_person(cast.ines)
    address = f"/api/nonconformances/{raised.pk}/extent/"
    sent = {"id": str(new_id()), "readings_um": ["52", "55.5"], "by_units": True}
    assert [client.post(address, sent, "application/json").status_code for _ in range(2)] == [201, 200]
    assert client.post(address, sent | {"readings_um": ["1"]}, "application/json").status_code == 409
    both = {"id": str(new_id()), "readings_um": ["1"], "ended": "shift"}
    assert client.post(address, both, "application/json").status_code == 422
    shown = client.get(address).json()
    assert shown["next"] == {"direction": 1, "step": 2, "distance_m": None, "x_m": None, "y_m": None}
    assert (shown["finished"], shown["nonconforming"], shown["spots"][0]["readings_um"]) == (False, [1], [52, 55.5])
    assert coming(raised) == "Direction 1 (up), unit 2"
    back = f"/api/extent-spots/{sent['id']}/take-back/"
    assert client.post(back, {"reason": "slip"}, "application/json").status_code == 201
    assert client.post(back, {"reason": "slip"}, "application/json").status_code == 409
    assert client.get(address).json()["next"]["distance_m"] == 1.5
