"""Profile by locations against what is known of SSPC-PA 17."""

import pytest

from tests.reference.table import COMPUTED, MEMORY, STORED, Check, holds

NUMBER = "SSPC-PA 17 (2012): three locations for each apparatus in each shift or 12 h, whichever is shorter"
SPLIT = f"{NUMBER}; a shift of 14 h taken as two periods"
LIMITS = "SSPC-PA 17 (2012): location averages inside the limits, ends included"
EXTENT = "SSPC-PA 17 (2012), appendix B4: four directions, two compliant in a row or no room"
D4417_2014 = "ASTM D4417 B (2014): the maximum of ten readings of a location; other accounts: their mean"
ONE, TWO, THREE = (
    [48, 52, 61, 55, 57, 63, 50, 59, 54, 58],
    [60, 66, 62, 71, 58, 64, 69, 61, 65, 63],
    [72, 70, 68, 75, 66, 74, 77, 69, 71, 73],
)


def judged(source, provenance, locations, expected, *, statistic="mean", readings=1, **given):
    inputs = {"minimum_um": 50, "maximum_um": 75, "location_value": statistic, "readings_per_location": readings,
              "locations": [{"readings_um": at} for at in locations], **given}  # fmt: skip
    return Check("profile-pa17", source, provenance, inputs, expected)


def number(source, hours, locations):
    return Check("profile-pa17-locations", source, STORED, {"hours_h": hours}, {"locations_required": locations})


def searched(outward, expected):
    """One direction as given; nothing can be measured in the other three."""
    spots = [{"direction": 1, **({"ended": at} if isinstance(at, str) else {"readings_um": [at]})} for at in outward]
    spots += [{"direction": other, "ended": "no further place"} for other in (2, 3, 4)]
    inputs = {"minimum_um": 50, "maximum_um": 75, "location_value": "mean", "step_m": 1, "locations": spots}
    return Check("profile-pa17-extent", EXTENT, STORED, inputs, expected)


CHECKS = [
    number(NUMBER, [8], 3),
    number(NUMBER, [10, 10], 6),
    number(NUMBER, [10] * 6, 18),
    number(NUMBER, [10, 10, 10], 9),
    number(NUMBER, [12], 3),
    number(SPLIT, [14], 6),
    number(NUMBER, [0], 0),
    judged(LIMITS, MEMORY, [[55.7], [63.9], [71.5]], {"verdict": "pass"}),
    judged(LIMITS, MEMORY, [[50], [60], [75]], {"verdict": "pass"}),
    judged(LIMITS, MEMORY, [[49.9], [60], [70]], {"verdict": "fail"}),
    judged(LIMITS, MEMORY, [[50], [60], [75.1]], {"verdict": "fail"}),
    judged(NUMBER, STORED, [[60], [62]], {"verdict": "incomplete"}),
    judged("SSPC-PA 17: a location outside decides before the sample is whole", MEMORY, [[49], [62]],
           {"verdict": "fail"}),
    judged(D4417_2014, STORED, [ONE, TWO, THREE], {"verdict": "pass", "mean_um": 191.1 / 3}, readings=10),
    judged(D4417_2014, STORED, [ONE, TWO, THREE], {"verdict": "fail", "mean_um": 211 / 3}, readings=10,
           statistic="maximum"),
    judged("ASTM D4417 B: ten readings a location; nine give no value", STORED, [ONE[:9], TWO, THREE],
           {"verdict": "incomplete"}, readings=10),
    searched([45, 55, 44, 60, 61], {"finished": True, "locations_taken": 5}),
    searched([55, "no further place"], {"finished": True, "locations_taken": 1}),
    Check("profile-pa17-extent", EXTENT, STORED,
          {"minimum_um": 50, "maximum_um": 75, "location_value": "mean", "step_m": 2,
           "locations": [{"readings_um": [45]}, {"readings_um": [55]}, {"readings_um": [56]}]},
          {"finished": False, "next": {"direction": 2, "step": 1, "clockwise_deg": 90, "distance_m": 2}}),
    Check("profile-pa17-extent", "Points on a circle by hand: the third direction of four lies opposite the first",
          COMPUTED, {"minimum_um": 50, "maximum_um": 75, "location_value": "mean", "step_m": 2,
                     "locations": [{"direction": at, "ended": "no further place"} for at in (1, 2)]},
          {"next": {"direction": 3, "x_m": 0, "y_m": -2}}),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check):
    holds(check)
