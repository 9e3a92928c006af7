"""Hot dip galvanizing and thermal spray against what is known of ISO 1461 and ISO 2063."""

import pytest

from inspection.standards.thickness_iso1461 import control_sample
from tests.reference.table import COMPUTED, MEMORY, STORED, Check, holds

TABLE = "ISO 1461: two trade tables that agree"
BORDER = "ISO 1461: borders of the 1999 extract and of a galvanizers' association on 2009"
LARGE = "ISO 1461, articles over 2 m²: the mean of its reference areas reaches the mean value (parallel text)"
SMALL = "ISO 1461, smaller articles: each area the local value, the mean of all the mean value (parallel text)"
FIVE = "ISO 1461: at least five readings a reference area of 10 cm² (parallel text)"
SAMPLE = "ISO 1461: control sample by size of lot"
REPAIR = "ISO 1461 (2009, partial text): repair up to 0.5 % of the surface and 10 cm² each"
SPRAYED = "ISO 2063: the least local thickness decides"
STEEL, CASTING = "steel, not centrifuged", "casting, not centrifuged"


def area(thickness):
    return [thickness] * 5


def limits(steel_mm, edition, local, mean, *, article=STEEL, source=TABLE):
    inputs = {"edition": edition, "size": "10 cm² to 2 m²", "article": article, "steel_mm": steel_mm,
              "articles": [{"areas_um": [area(200)]}]}  # fmt: skip
    return Check("galvanizing-iso1461", source, STORED, inputs, {"local_limit_um": local, "mean_limit_um": mean})


def judged(source, size, steel_mm, articles, expected, *, provenance=STORED, **given):
    inputs = {"edition": "2009", "size": size, "article": STEEL, "steel_mm": steel_mm,
              "articles": [{"areas_um": areas} for areas in articles], **given}  # fmt: skip
    return Check("galvanizing-iso1461", source, provenance, inputs, expected)


def large(*areas, **given):
    return judged(LARGE, "over 2 m²", 8, [[area(one) for one in areas]], given)


def small(*areas, verdict):
    return judged(SMALL, "10 cm² to 2 m²", 4, [[area(one)] for one in areas], {"verdict": verdict})


def sample(lot, count):
    return Check("galvanizing-iso1461", SAMPLE, MEMORY, {"lot": lot}, {"sample": count},
                 compute=lambda given: {"sample": control_sample(given["lot"])})  # fmt: skip


def repair(places, verdict, share):
    inputs = {"bare_places_cm2": places, "article_m2": 1}
    return Check("galvanizing-repair", REPAIR, STORED, inputs, {"verdict": verdict, "share_pct": share})


def sprayed(source, places, verdict, **given):
    inputs = {"minimum_local_um": 100, "readings_per_place": 3, "places_required": 2, "places_um": places, **given}
    return Check("thermal-spray-iso2063", source, MEMORY, inputs, {"verdict": verdict})


CHECKS = [
    limits(8, "2009", 70, 85),
    limits(4, "2009", 55, 70),
    limits(2, "2009", 45, 55),
    limits(1, "2009", 35, 45),
    limits(1.5, "1999", 45, 55),
    limits(1.5, "2009", 45, 55),
    limits(8, "1999", 70, 80, article=CASTING),
    limits(6, "2009", 70, 80, article=CASTING),
    limits(5.9, "1999", 60, 70, article=CASTING),
    limits(6, "1999", 70, 85, source=BORDER),
    limits(6, "2009", 55, 70, source=BORDER),
    limits(3, "1999", 55, 70, source=BORDER),
    limits(3, "2009", 45, 55, source=BORDER),
    large(78, 91, 88, verdict="pass", mean_um=257 / 3),
    large(72, 80, 90, verdict="fail", mean_um=242 / 3),
    large(68, 96, 95, verdict="pass", lowest_area_um=68),
    small(56, 72, 85, verdict="pass"),
    small(54, 80, 90, verdict="fail"),
    small(56, 57, 58, verdict="fail"),
    judged(FIVE + "; a single reading below the table is irrelevant", "10 cm² to 2 m²", 4,
           [[[40, 60, 55, 62, 63]], [area(90)]], {"verdict": "pass", "lowest_area_um": 56}),
    judged(FIVE, "10 cm² to 2 m²", 4, [[[40, 60, 55, 62]], [area(90)]], {"verdict": "incomplete"}),
    judged("ISO 1461: at least three reference areas on an article over 2 m² (association guide)", "over 2 m²", 8,
           [[area(90), area(91)]], {"verdict": "incomplete"}),
    judged(SAMPLE, "10 cm² to 2 m²", 4, [[area(90)], [area(91)]], {"verdict": "incomplete", "sample": 3},
           provenance=MEMORY, lot=400),
    judged("ISO 1461: 85 µm is 610 g/m² in the table, 612 at 7.2 g/cm³", "10 cm² to 2 m²", 8, [[area(85)]],
           {"mean_mass_g_m2": 612}, provenance=COMPUTED),
    *(sample(lot, count) for lot, count in ((2, 2), (3, 3), (4, 3), (500, 3), (501, 5), (3200, 8), (10_000, 13),
                                            (10_001, 20))),
    repair([12], "fail", 0.12),
    repair([10] * 6, "fail", 0.6),
    repair([8] * 5, "pass", 0.4),
    repair([10] * 5, "pass", 0.5),
    sprayed(SPRAYED, [[112, 104, 121], [98, 100, 102]], "pass"),
    sprayed(SPRAYED, [[112, 204, 321], [98, 100, 101]], "fail"),
    sprayed(SPRAYED + "; a place too few", [[112, 104, 121]], "incomplete"),
    sprayed(SPRAYED + "; a thin place decides at once", [[90, 91, 92]], "fail"),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check):
    holds(check)
