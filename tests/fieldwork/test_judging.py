"""What the rule of a coat says of the readings of an area, and how many it still wants."""

from __future__ import annotations

import random

import pytest

from inspection.fieldwork.judging import ReadingSent, judge, plan_of
from inspection.foundation.refusals import Refused
from inspection.standards import calculate
from tests.cast import Cast
from tests.fieldwork.build import GOOD_SPOTS, singles, spots


def primer(cast: Cast, readings: list[ReadingSent], correction_nm: int = 0):
    return judge(cast.site.coats[0], cast.site.area, readings, correction_nm)


def test_five_good_spots_of_three_pass_pa2_on_8_m2(cast: Cast) -> None:
    judgement = primer(cast, GOOD_SPOTS)
    assert (judgement.verdict, judgement.still_wanted, judgement.plan.readings) == ("pass", 0, 15)
    assert judgement.result["areas"][0]["spot_means_um"] == [81, 76, 91, 70, 85]


def test_a_sixth_spot_opens_a_second_area_that_wants_its_five_spots(cast: Cast) -> None:
    judgement = primer(cast, [*GOOD_SPOTS, ReadingSent(6, 1, 80_000)])
    assert (judgement.verdict, judgement.still_wanted) == ("incomplete", 14)
    assert [area["name"] for area in judgement.result["areas"]] == ["area 1", "area 2"]


def test_two_readings_in_a_spot_want_a_third(cast: Cast) -> None:
    judgement = primer(cast, GOOD_SPOTS[:-1])
    assert (judgement.verdict, judgement.still_wanted) == ("incomplete", 1)


def test_60_m2_want_three_areas_by_pa2(cast: Cast) -> None:
    # SSPC-PA 2, clause 8: 30 to 100 m², three areas of five spots of three readings.
    judgement = judge(cast.site.coats[0], cast.site.other_area, GOOD_SPOTS, 0)
    assert (judgement.verdict, judgement.still_wanted) == ("incomplete", 30)


def test_a_failing_spot_fails_before_the_plan_is_filled(cast: Cast) -> None:
    # Level 3: a spot mean below 80 % of 60 µm.
    assert primer(cast, spots([47, 48, 48.9])).verdict == "fail"


def test_single_readings_are_not_judged_by_pa2(cast: Cast) -> None:
    readings = spots([30, 110, 100], [80, 80, 80], [80, 80, 80], [80, 80, 80], [80, 80, 80])
    assert primer(cast, readings).verdict == "pass"


def test_a_voided_reading_stays_out_of_the_mean_and_wants_its_repeat(cast: Cast) -> None:
    readings = [*GOOD_SPOTS, ReadingSent(1, 4, 200_000, None, "probe tilted")]
    judgement = primer(cast, readings)
    assert judgement.result["areas"][0]["spot_means_um"][0] == 81
    assert (judgement.verdict, judgement.still_wanted) == ("incomplete", 1)
    repeated = primer(cast, [*readings, ReadingSent(1, 5, 84_000)])
    assert (repeated.verdict, repeated.still_wanted) == ("pass", 0)


def test_the_base_metal_reading_is_subtracted_before_pa2_judges(cast: Cast) -> None:
    judgement = primer(cast, GOOD_SPOTS, 15_500)
    assert judgement.inputs["areas"][0]["spots_um"][0] == [64.5, 66.5, 65.5]
    assert min(judgement.values_nm) == 69_000 - 15_500


def test_iso_19840_is_given_readings_as_shown_and_subtracts_once(cast: Cast) -> None:
    # Nominal through two coats is 75 + 125 = 200 µm.
    readings = singles(*[230] * 15)
    judgement = judge(cast.site.coats[1], cast.site.area, readings, 25_000)
    assert judgement.inputs["correction_um"] == 25
    assert judgement.result["mean_um"] == 205
    assert (judgement.verdict, judgement.mean_nm) == ("pass", 205_000)


def test_iso_19840_wants_fifteen_readings_on_8_m2(cast: Cast) -> None:
    judgement = judge(cast.site.coats[1], cast.site.area, singles(*[230] * 14), 0)
    assert (judgement.verdict, judgement.still_wanted) == ("incomplete", 1)


def test_iso_19840_counts_a_discarded_and_repeated_reading_as_a_repeat(cast: Cast) -> None:
    readings = singles(*[230] * 15)
    for spot in (2, 3, 4):
        readings[spot - 1] = ReadingSent(spot, 1, 150_000, None, "on a weld")
        readings.append(ReadingSent(spot, 2, 230_000))
    judgement = judge(cast.site.coats[1], cast.site.area, readings, 0)
    assert judgement.verdict == "pass"
    assert [repeat["first_um"] for repeat in judgement.inputs["repeats"]] == [150, 150, 150]
    # ISO 19840, 6.1: at most three of fifteen may be repeated.
    readings[4] = ReadingSent(5, 1, 150_000, None, "on a weld")
    readings.append(ReadingSent(5, 2, 230_000))
    assert judge(cast.site.coats[1], cast.site.area, readings, 0).verdict == "fail"


def test_a_spot_measured_again_and_again_uses_up_the_repeats_of_iso_19840(cast: Cast) -> None:
    # At most one of five readings on 1 m² may be repeated (6.1, from memory).
    cast.site.area.area_m2 = 1
    readings = singles(*[230] * 5)
    for order, value in ((1, 100), (2, 150), (3, 155)):
        readings.append(ReadingSent(6, order, value * 1000, None, "measured again"))
    readings.append(ReadingSent(6, 4, 210_000))
    judgement = judge(cast.site.coats[1], cast.site.area, readings, 0)
    assert judgement.verdict == "fail"
    (failed,) = [check for check in judgement.result["checks"] if check["passed"] is False]
    assert (failed["name"], failed["limit"], failed["observed"]) == ("repeats", 1, 3)


def test_what_is_still_wanted_is_told_alike_by_the_plan_and_by_the_rule(cast: Cast) -> None:
    chance = random.Random(19)
    for _ in range(300):
        coat = chance.randrange(3)
        area = chance.choice([cast.site.area, cast.site.other_area])
        readings = [
            ReadingSent(spot, order, 230_000, None, chance.choice(["", "", "", "slipped"]))
            for spot in chance.sample(range(1, 25), chance.randint(1, 20))
            for order in range(1, chance.randint(2, 5))
        ]
        if all(reading.void_reason for reading in readings):
            continue
        judgement = judge(cast.site.coats[coat], area, readings, 0)
        assert judgement.still_wanted == judgement.result["still_to_measure"], readings
        assert calculate(judgement.calculation, judgement.inputs) == judgement.result


def test_imo_wants_one_reading_for_each_5_m2(cast: Cast) -> None:
    # IMO MSC.215(82), annex 3, flat surface.
    assert plan_of(cast.site.coats[2], cast.site.area).readings == 2
    assert plan_of(cast.site.coats[2], cast.site.other_area).readings == 12


def test_imo_judges_corrected_readings_against_the_sum_of_the_coats(cast: Cast) -> None:
    # Nominal through three coats is 250 µm; 225 µm is exactly 0.9 × nominal and 1 of 10 is exactly 10 %.
    readings = singles(235, *[260] * 9)
    judgement = judge(cast.site.coats[2], cast.site.area, readings, 10_000)
    assert (judgement.inputs["nominal_um"], judgement.verdict) == (250, "pass")


def test_an_old_verdict_is_found_again_from_its_stored_inputs(cast: Cast) -> None:
    for coat, readings in ((0, GOOD_SPOTS), (1, singles(*[199.9] * 15)), (2, singles(*[260] * 4))):
        judgement = judge(cast.site.coats[coat], cast.site.area, readings, 0)
        assert calculate(judgement.calculation, judgement.inputs) == judgement.result


def test_the_order_in_which_readings_arrive_does_not_matter(cast: Cast) -> None:
    assert primer(cast, GOOD_SPOTS[::-1]).result == primer(cast, GOOD_SPOTS).result


def test_with_every_reading_voided_there_is_nothing_to_judge(cast: Cast) -> None:
    with pytest.raises(Refused, match="No reading is left"):
        primer(cast, [ReadingSent(1, 1, 80_000, None, "slipped")])


def test_a_reading_thinner_than_the_correction_is_named_by_its_row(cast: Cast) -> None:
    with pytest.raises(Refused) as refused:
        primer(cast, spots([80, 12, 81]), 15_000)
    assert [(fault.field, fault.row) for fault in refused.value.faults] == [("value", 2)]
