"""How much, which areas, where, and how far: the plans before and after a verdict."""

from __future__ import annotations

import hashlib
import math
import random
from collections import Counter
from typing import Any

import pytest

from inspection.standards import calculate
from inspection.standards.extent import ExtentSearch
from tests.standards.asking import faults

REFERENCE = "ISO 12944-8 reference areas"


class TestSamplingPlan:
    @pytest.mark.parametrize(
        ("standard", "given", "expected"),
        [
            ("SSPC-PA 2", {"area_ft2": 299.9}, {"areas_to_measure": 3}),
            ("SSPC-PA 2", {"area_ft2": 101}, {"areas_to_measure": 2}),
            ("SSPC-PA 2", {"area_ft2": 1000}, {"areas_to_measure": 3}),
            ("SSPC-PA 2", {"area_ft2": 1001}, {"areas_to_measure": 4}),
            ("SSPC-PA 2", {"area_m2": 30}, {"areas_to_measure": 3}),
            ("ISO 19840", {"length_m": 12}, {"readings_required": 20, "repeats_allowed": 4}),
            ("IMO PSPC flat surface", {"area_m2": 5.1}, {"readings_required": 2}),
            ("IMO PSPC complex area", {"area_m2": 0.61}, {"readings_required": 4}),
            ("IMO PSPC tank boundary", {"length_m": 3.1}, {"readings_required": 2}),
            ("IMO PSPC stiffener", {"length_m": 6.1}, {"sets_required": 3, "readings_required": 6}),
            ("IMO PSPC primary member", {"length_m": 9.1}, {"sets_required": 4, "readings_required": 12}),
            ("AS 3894.3", {"area_m2": 1}, {"spots_from": 3, "spots_to": 9}),
            ("AS 3894.3", {"area_m2": 3}, {"spots_from": 3, "spots_to": 9}),
            ("AS 3894.3", {"area_m2": 10}, {"spots_from": 9, "spots_to": 30}),
            ("AS 3894.3", {"area_m2": 10.1}, {"spots": 10}),
            ("AS 3894.3", {"area_m2": 20}, {"spots": 10}),
            ("AS 3894.3", {"area_m2": 30}, {"spots": 15}),
            ("AS 3894.3", {"area_m2": 100}, {"spots": 15}),
            (REFERENCE, {"area_m2": 2001}, {"reference_areas": 5, "reference_area_total_m2": 25}),
            (REFERENCE, {"area_m2": 5000}, {"reference_areas": 5, "reference_area_total_m2": 25}),
            (REFERENCE, {"area_m2": 10_000}, {"reference_areas": 7, "reference_area_total_m2": 50}),
            (REFERENCE, {"area_m2": 25_000}, {"reference_areas": 7, "reference_area_total_m2": 75}),
            (REFERENCE, {"area_m2": 50_000}, {"reference_areas": 9, "reference_area_total_m2": 100}),
            (REFERENCE, {"area_m2": 50_001}, {"reference_areas": 9, "reference_area_total_m2": 200}),
            ("UFGS profile tests", {"area_m2": 101}, {"tests_required": 4}),
            ("UFGS profile tests", {"area_ft2": 1001}, {"tests_required": 4}),
            ("UFGS profile tests", {"area_m2": 5, "failing_tests": 2}, {"tests_required": 7}),
            ("UFGS thermal spray", {"area_m2": 9.1}, {"spots": 10, "minimum_readings": 50}),
            ("SSPC-PA 9", {"area_ft2": 100}, {"areas_to_measure": 1, "spots": 5, "minimum_readings": 15}),
        ],
    )
    def test_each_plan_at_its_bounds(self, standard: str, given: dict[str, Any], expected: dict[str, int]) -> None:
        answer = calculate("sampling-plan", {"standard": standard, **given})
        assert {name: answer[name] for name in expected} == expected
        assert standard.partition(" ")[0] in answer["source"]

    @pytest.mark.parametrize(
        ("standard", "given", "field"),
        [
            ("SSPC-PA 2", {}, "area_m2"),
            ("SSPC-PA 2", {"length_m": 5}, "length_m"),
            ("SSPC-PA 2", {"area_m2": 5, "area_ft2": 5}, "area_m2"),
            ("SSPC-PA 2", {"area_m2": 5, "failing_tests": 1}, "failing_tests"),
            ("ISO 19840", {"area_ft2": 5}, "area_ft2"),
            ("ISO 19840", {}, "area_m2"),
            ("ISO 19840", {"area_m2": 5, "length_m": 5}, "area_m2"),
            ("IMO PSPC stiffener", {"area_m2": 5}, "area_m2"),
            ("IMO PSPC stiffener", {}, "length_m"),
            ("AS 3894.3", {"area_m2": 0.9}, "area_m2"),
            ("AS 3894.3", {"area_m2": 100.1}, "area_m2"),
            ("AS 3894.3", {"area_m2": 499}, "area_m2"),
        ],
    )
    def test_what_a_plan_does_not_know_is_refused(self, standard: str, given: dict[str, Any], field: str) -> None:
        assert field in faults("sampling-plan", {"standard": standard, **given})

    def test_an_area_over_1000_square_metres_is_to_be_divided(self) -> None:
        assert "Divide" in str(calculate("sampling-plan", {"standard": "ISO 19840", "area_m2": 1001})["notes"])
        assert calculate("sampling-plan", {"standard": "ISO 19840", "area_m2": 1000})["notes"] == []
        assert "by length" in str(calculate("sampling-plan", {"standard": "ISO 19840", "length_m": 5})["notes"])


class TestChooseAreas:
    AREAS = [f"bay {n}" for n in range(25)]

    def test_an_auditor_can_repeat_it_with_nothing_but_sha256(self) -> None:
        answer = calculate("choose-areas", {"seed": "lot 4", "areas": self.AREAS})
        digests = [hashlib.sha256(f"lot 4\n{name}".encode()).hexdigest() for name in self.AREAS]
        blocks = [(range(10), 3), (range(10, 20), 1), (range(20, 25), 1)]
        wanted = sorted(i for block, count in blocks for i in sorted(block, key=lambda i: digests[i])[:count])
        assert answer["chosen"] == [self.AREAS[index] for index in wanted]
        assert [candidate["digest"] for candidate in answer["candidates"]] == digests
        assert [c["name"] for c in answer["candidates"] if c["chosen"]] == answer["chosen"]
        assert [candidate["block"] for candidate in answer["candidates"]] == [0] * 10 + [1] * 10 + [2] * 5

    @pytest.mark.parametrize(
        ("candidates", "chosen"), [(1, 1), (2, 2), (3, 3), (4, 3), (10, 3), (11, 4), (20, 4), (21, 5)]
    )
    def test_as_many_as_the_sampling_plan_asks(self, candidates: int, chosen: int) -> None:
        answer = calculate("choose-areas", {"seed": "s", "areas": self.AREAS[:candidates]})
        plan = calculate("sampling-plan", {"standard": "SSPC-PA 2", "area_m2": 10 * candidates})
        assert len(answer["chosen"]) == chosen == plan["areas_to_measure"]

    def test_a_number_can_be_named_instead(self) -> None:
        answer = calculate("choose-areas", {"seed": "s", "areas": self.AREAS, "plan": "a number", "count": 25})
        assert answer["chosen"] == self.AREAS
        assert {candidate["block"] for candidate in answer["candidates"]} == {0}
        assert "25 smallest" in answer["method"]
        one = calculate("choose-areas", {"seed": "s", "areas": self.AREAS, "plan": "a number", "count": 1})
        smallest = min(one["candidates"], key=lambda candidate: candidate["digest"])
        assert one["chosen"] == [smallest["name"]]

    @pytest.mark.parametrize("given", [{"plan": "a number", "count": 26}, {"plan": "a number"}, {"count": 2}])
    def test_the_number_belongs_to_its_plan(self, given: dict[str, Any]) -> None:
        assert "count" in faults("choose-areas", {"seed": "s", "areas": self.AREAS, **given})

    def test_each_area_has_a_name_of_its_own(self) -> None:
        assert "areas[2]" in faults("choose-areas", {"seed": "s", "areas": ["a", "b", "a"]})

    def test_no_area_is_preferred(self) -> None:
        """Chi-square over 2000 seeds: 9 degrees of freedom, 27.9 is passed once in a thousand fair draws."""
        drawn = Counter(
            name
            for seed in range(2000)
            for name in calculate("choose-areas", {"seed": str(seed), "areas": self.AREAS[:10]})["chosen"]
        )
        # Three of ten are drawn without being put back, which shrinks the variance by 7/10.
        assert sum((drawn[name] - 600) ** 2 / 600 for name in self.AREAS[:10]) * 10 / 7 < 27.9


def counted_out(thin: list[tuple[float, float]], step: float, boundary: list[dict[str, Any]]) -> float:
    """Squares of 10 cm that lie within a step of a nonconforming spot or inside the polygon through the boundary."""
    corners = [(point["x_m"], point["y_m"]) for point in boundary]
    sides = list(zip(corners, corners[1:] + corners[:1], strict=True))
    width, reach = 0.1, max(math.hypot(*corner) for corner in corners) + step
    places = [(n + 0.5) * width - reach for n in range(int(2 * reach / width))]

    def inside(x: float, y: float) -> bool:
        if any((x - a) ** 2 + (y - b) ** 2 <= step**2 for a, b in thin):
            return True
        crossings = sum((a[1] > y) != (b[1] > y) and x < a[0] + (y - a[1]) * (b[0] - a[0]) / (b[1] - a[1])
                        for a, b in sides)  # fmt: skip
        return crossings % 2 == 1

    return width**2 * sum(inside(x, y) for x in places for y in places)


class TestExtentSearch:
    def test_it_walks_one_direction_after_the_other(self) -> None:
        search = ExtentSearch.from_state({"minimum_um": 100, "maximum_um": 150})
        asked = []
        for value in (90, 100, 150, 120, 150.1, 110, 110):
            answer = calculate("dft-pa2-extent-search", search.state())
            asked.append((answer["next"]["direction"], answer["next"]["step"]))
            search = search.measured(value)
        assert asked == [(1, 1), (1, 2), (1, 3), (2, 1), (2, 2), (2, 3), (2, 4)]
        assert search.next_direction == 3

    def test_it_ends_in_a_boundary(self) -> None:
        search = ExtentSearch.from_state({"minimum_um": 100, "directions": 4, "step_m": 2})
        for value in (90, 110, 110, 110, 110):
            search = search.measured(value)
        search = search.nothing_to_measure().measured(90).nothing_to_measure("end of the shift's work")
        answer = calculate("dft-pa2-extent-search", search.state())
        assert answer["finished"]
        assert "next" not in answer
        assert [(point["step"], point["distance_m"], point["closed_by"]) for point in answer["boundary"]] == [
            (2, 4, "conforming spot"),
            (1, 2, "conforming spot"),
            (1, 2, "no further place"),
            (2, 4, "end of the shift's work"),
        ]
        assert [(point["x_m"], point["y_m"]) for point in answer["boundary"]] == [(0, 4), (2, 0), (0, -2), (-4, 0)]
        assert answer["area_m2"] == pytest.approx(
            counted_out(
                [(0, 0), (0, 0.5), (0, 1), (0, 1.5), (0, 2), (-0.5, 0), (-1, 0), (-1.5, 0), (-2, 0)],
                2,
                answer["boundary"],
            ),
            rel=0.01,
        )
        assert answer["spots_taken"] == 6
        assert len(answer["notes"]) == 2

    def test_a_boundary_of_conforming_spots_only_needs_no_remark(self) -> None:
        search = ExtentSearch.from_state({"minimum_um": 100})
        for _ in range(16):
            search = search.measured(110)
        answer = calculate("dft-pa2-extent-search", search.state())
        assert answer["notes"] == ["Mark the boundary on the surface and record it."]
        assert answer["area_m2"] == 7.069, "π × 1.5² = 7.0686, rounded up: all within 1.5 m of the one spot"

    def test_the_area_covers_a_line_of_spots_with_all_that_is_near_it(self) -> None:
        spots = [{"direction": 1, "readings_um": 90}] * 2
        spots += [{"direction": d, "readings_um": 110} for d in range(1, 9) for _ in range(2)]
        answer = calculate("dft-pa2-extent-search", {"minimum_um": 100, "spots": spots})
        # Two half circles and the rectangle between them.
        assert answer["area_m2"] == math.ceil(1000 * (math.pi * 1.5**2 + 2 * 1.5 * 3)) / 1000

    @pytest.mark.parametrize("seed", range(3))
    def test_the_area_covers_all_within_a_step_of_each_nonconforming_spot(self, seed: int) -> None:
        chance = random.Random(seed)
        search = ExtentSearch.from_state({"minimum_um": 100, "directions": chance.choice([4, 6, 8])})
        thin = [(0.0, 0.0)]
        while (at := search.next_direction) is not None:
            spot = calculate("dft-pa2-extent-search", search.state())["next"]
            value = chance.choice([90, 110, 110]) if spot["step"] < 5 else 110
            if value == 90:
                thin += [(spot["x_m"] * part, spot["y_m"] * part) for part in (0.25, 0.5, 0.75, 1)]
            search = search.measured(value, direction=at)
        answer = calculate("dft-pa2-extent-search", search.state())
        assert answer["area_m2"] >= 0.99 * counted_out(thin, 1.5, answer["boundary"])

    def test_the_next_spot_is_placed(self) -> None:
        search = ExtentSearch.from_state({"minimum_um": 100})
        spot = calculate("dft-pa2-extent-search", search.measured(110).measured(110).state())["next"]
        assert spot == {"direction": 2, "step": 1, "clockwise_deg": 45, "distance_m": 1.5, "x_m": 1.061, "y_m": 1.061}

    def test_a_conforming_spot_between_does_not_close_a_direction(self) -> None:
        search = ExtentSearch.from_state({"minimum_um": 100, "directions": 2})
        for value in (110, 90, 110):
            search = search.measured(value)
        assert search.next_direction == 1
        search = search.nothing_to_measure().nothing_to_measure()
        boundary = calculate("dft-pa2-extent-search", search.state())["boundary"]
        assert [(p["step"], p["closed_by"]) for p in boundary] == [(3, "conforming spot"), (1, "no further place")]

    def test_repeating_units_are_counted_not_measured(self) -> None:
        search = ExtentSearch.from_state({"minimum_um": 100, "directions": 3, "repeating_units": True})
        assert "x_m" not in calculate("dft-pa2-extent-search", search.state())["next"]
        for _ in range(6):
            search = search.measured(110)
        answer = calculate("dft-pa2-extent-search", search.state())
        assert "area_m2" not in answer
        assert [point["step"] for point in answer["boundary"]] == [1, 1, 1]

    @pytest.mark.parametrize(("directions", "area"), [(2, None), (3, math.pi * 1.5**2)])
    def test_two_directions_enclose_no_area(self, directions: int, area: float | None) -> None:
        search = ExtentSearch.from_state({"minimum_um": 100, "directions": directions})
        for _ in range(2 * directions):
            search = search.measured(110)
        answer = calculate("dft-pa2-extent-search", search.state())
        assert answer["finished"]
        assert answer.get("area_m2") == (None if area is None else pytest.approx(area, abs=0.001))

    @pytest.mark.parametrize(
        ("spots", "field"),
        [
            ([{"direction": 1, "readings_um": 110}] * 3, "spots[2].direction"),
            ([{"readings_um": 110}] * 5, "spots[4].direction"),
            ([{"direction": 3, "readings_um": 1}], "spots[0].direction"),
            ([{"direction": 1}], "spots[0].readings_um"),
            ([{"readings_um": 1, "ended": "no further place"}], "spots[0].readings_um"),
        ],
    )
    def test_a_spot_where_none_is_asked_is_refused(self, spots: list[dict[str, Any]], field: str) -> None:
        assert field in faults("dft-pa2-extent-search", {"minimum_um": 100, "directions": 2, "spots": spots})

    def test_directions_can_be_measured_in_any_order(self) -> None:
        spots = [{"direction": 2, "readings_um": [110, 112]}, {"direction": 2, "readings_um": 90}]
        answer = calculate("dft-pa2-extent-search", {"minimum_um": 100, "directions": 2, "spots": spots})
        assert answer["directions"][1]["spot_means_um"] == [111, 90]
        assert answer["directions"][1]["nonconforming_indices"] == [1]
        assert answer["directions"][1]["clockwise_deg"] == 180
        assert answer["next"]["direction"] == 1
        assert answer["spots_taken"] == 2

    def test_one_direction_says_when_spots_were_not_needed(self) -> None:
        more = calculate("dft-pa2-extent", {"minimum_um": 100, "direction_spots_um": [110, 110, 90]})
        assert more["notes"] == ["Spots beyond the stop were not needed and are not counted."]
        open_ended = calculate("dft-pa2-extent", {"minimum_um": 100, "direction_spots_um": [110, 90]})
        assert not open_ended["finished"]
        assert "further spot" in open_ended["notes"][0]
        ended = calculate("dft-pa2-extent", {"minimum_um": 100, "direction_spots_um": [110, 110]})
        assert ended["finished"]
        assert ended["notes"] == []


class TestGuidance:
    @pytest.mark.parametrize(
        "feature", ["plate", "pipe", "beam", "edge", "weld", "test panel", "parts laid down", "ballast tank"]
    )
    def test_every_sentence_says_how_it_is_known(self, feature: str) -> None:
        answer = calculate("measuring-guidance", {"feature": feature})
        assert answer["guidance"]
        assert {sentence["provenance"] for sentence in answer["guidance"]} <= {"stored source", "from memory"}
        assert "pipe_spots" not in answer

    @pytest.mark.parametrize("feature", ["pipe", "beam", "edge", "weld", "test panel"])
    def test_what_is_not_known_is_named(self, feature: str) -> None:
        assert calculate("measuring-guidance", {"feature": feature})["unknown"]

    @pytest.mark.parametrize(("diameter", "spots"), [(12, 4), (14, 6), (24, 6), (24.1, 8)])
    def test_spots_around_a_pipe(self, diameter: float, spots: int) -> None:
        answer = calculate("measuring-guidance", {"feature": "pipe", "length_m": 3.1, "diameter_in": diameter})
        assert (answer["pipe_sets"], answer["pipe_spots"]) == (2, 2 * spots)

    def test_only_a_pipe_has_a_diameter(self) -> None:
        assert "length_m" in faults("measuring-guidance", {"feature": "beam", "length_m": 3, "diameter_in": 12})
        assert "diameter_in" in faults("measuring-guidance", {"feature": "pipe", "length_m": 3})
