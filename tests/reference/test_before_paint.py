"""What is recorded of the steel before it is painted, against what is known of the standards."""

import pytest

from tests.reference.table import COMMON, MEMORY, STORED, Check, holds

ISO_1 = "ISO 8501-1: Sa 1, Sa 2, Sa 2½, Sa 3 in this order (training chart, equipment page)"
SSPC = "SSPC-SP 7, 14, 6, 10, 5 in this order (training chart; SP 14 from memory)"
NEAR = "Near equivalents are not equal: ISO judges by pictures, SSPC by percent of a unit area (training chart)"
JETTING = "SSPC-SP WJ-4 to WJ-1 in this order (study cards)"
ISO_4 = "ISO 8501-4: Wa 1, Wa 2, Wa 2½; nothing like WJ-1 (seller's page, conference paper)"
WET = "SSPC WAB, 2015: WAB-1, 2, 3, 8, 4 stand as SP 5, 10, 6, 14, 7 (consultant's and society pages)"
BARE = "SSPC-SP 15 leaves stains on 33 % of a unit area, SP 11 none (partial texts of 2012)"


def grade(source, provenance, wanted, found, verdict):
    return Check("cleanliness-grade", source, provenance, {"wanted": wanted, "found": found}, {"verdict": verdict})


DUST = "Usual specification of dust: quantity and size class at most 2 (ISO 8502-3)"
TAPES = "ISO 8502-3: at least three tests of a surface"


def dust(source, ratings, verdict, tapes=3):
    given = {"ratings": [{"quantity": quantity, "size_class": size} for quantity, size in ratings], "tapes": tapes,
             "maximum_quantity": 2, "maximum_size_class": 2}  # fmt: skip
    return Check("dust-rating", source, MEMORY, given, {"verdict": verdict})


COLLECTOR = "ASTM D4285: any oil discolouration rejects the air (partial text)"
AIR = "ASTM D4285: at least a minute within 24 in (60.96 cm)"
TRACE = "ASTM D4285: a trace of water fails"


def air(source, provenance, verdict, oil="no", water="no", held_s=60, distance_cm=60.96):
    given = {"oil": oil, "water": water, "held_s": held_s, "distance_cm": distance_cm}
    return Check("air-blotter", source, provenance, given, {"verdict": verdict})


RADIUS = "ISO 8501-3: a radius of 2 mm goes with P3 (industry handbook, Netherlands)"
UNDERCUT = "ISO 8501-3: no undercut at P3, none sharp or deep at P2 (training summary)"
BALLAST = "Ballast tanks: P2 with 2 mm radius or three passes (forum answer)"


def steel(source, provenance, grade, found, verdict, **given):
    return Check("steelwork-grades", source, provenance, {"grade": grade, "found": [found], **given},
                 {"verdict": verdict})  # fmt: skip


IMO_EDGES = {"edges": "2 mm radius or three passes"}
HOURS = "Hours of the specification, here 8, ends included"
RUSTED = "Visible rust fails whatever the clock (municipal specification: any rust, blast again)"


def look(source, provenance, hours_h, verdict, flash_rust="none", **given):
    inputs = {"hours_h": hours_h, "within_h": 8, "flash_rust": flash_rust, "contamination": "none",
              "condensation": "none", **given}  # fmt: skip
    return Check("last-look", source, provenance, inputs, {"verdict": verdict})


AB_2 = "SSPC-AB 2: no oil on or in the water after 10 min (partial text 1996/2004)"
AB_1 = "SSPC-AB 1: at most 1000 µS/cm by ASTM D4940"


def abrasive(source, provenance, means, oil, verdict):
    given = {"means_us_cm": means, "water_us_cm": 2, "method": "ASTM D4940", "limit": "SSPC-AB 1", "oil": oil}
    return Check("abrasive-conductivity", source, provenance, given, {"verdict": verdict})


CHECKS = [
    air(AIR, MEMORY, "pass"),
    air(AIR, MEMORY, "not judged", distance_cm=63.5),
    air(AIR, MEMORY, "not judged", held_s=59),
    air(COLLECTOR, STORED, "fail", oil="yes"),
    air(TRACE, MEMORY, "fail", water="yes"),
    air(f"{COLLECTOR}; oil is oil after 30 s too", STORED, "fail", oil="yes", held_s=30),
    steel(UNDERCUT, STORED, "P2", {"type": "undercut", "grade": "P2"}, "pass"),
    steel(UNDERCUT, STORED, "P3", {"type": "undercut", "grade": "P2"}, "fail"),
    steel("ISO 8501-3: slag is gone at P1", MEMORY, "P1", {"type": "slag", "grade": "none"}, "fail"),
    steel("ISO 8501-3: nothing asked of a rolled edge at P2", MEMORY, "P2", {"type": "rolled-edge", "grade": "P2"},
          "pass"),
    steel(RADIUS, STORED, "P3", {"type": "rolled-edge", "grade": "P3", "radius_mm": 1.9}, "fail"),
    steel(RADIUS, STORED, "P3", {"type": "rolled-edge", "grade": "P3", "radius_mm": 2}, "pass"),
    steel(BALLAST, STORED, "P2", {"type": "cut-edge", "grade": "P2", "radius_mm": 1.5}, "fail", **IMO_EDGES),
    steel(BALLAST, STORED, "P2", {"type": "cut-edge", "grade": "P2", "radius_mm": 1.5}, "pass", grinding_passes=3,
          **IMO_EDGES),
    steel(f"{BALLAST}; an edge that nobody measured is not passed", STORED, "P2", {"type": "cut-edge", "grade": "P2"},
          "incomplete", **IMO_EDGES),
    look(HOURS, COMMON, 7.99, "pass"),
    look(HOURS, COMMON, 8, "pass"),
    look(HOURS, COMMON, 8.02, "fail"),
    look(RUSTED, STORED, 2, "fail", flash_rust="L light"),
    look("WJ with H where M is the most allowed fails (four levels of flash rust: society press release)", STORED, 2,
         "fail", flash_rust="H heavy", most_flash_rust="M moderate"),
    abrasive(AB_1, MEMORY, [1000], "none", "pass"),
    abrasive(AB_1, MEMORY, [1001], "none", "fail"),
    abrasive(AB_2, STORED, [180, 186], "seen", "fail"),
    dust(DUST, [(2, 2)] * 3, "pass"),
    dust(DUST, [(2, 2), (2, 3), (1, 1)], "fail"),
    dust(DUST, [(3, 1), (1, 1), (1, 1)], "fail"),
    dust(DUST, [(0, 0)] * 3, "pass"),
    dust(TAPES, [(1, 1)] * 2, "incomplete"),
    dust(f"{TAPES}; one above a limit decides before the third", [(3, 1)], "fail"),
    grade(ISO_1, STORED, "Sa 2½", "Sa 3", "pass"),
    grade(ISO_1, STORED, "Sa 2½", "Sa 2½", "pass"),
    grade(ISO_1, STORED, "Sa 2½", "Sa 2", "fail"),
    grade(ISO_1, STORED, "Sa 2 1/2 or better", "SA 2.5", "pass"),
    grade(ISO_1, STORED, "St 3", "St 2", "fail"),
    grade("ISO 8501-2: P Sa 2½ of coated steel is not Sa 2½ of uncoated", MEMORY, "P Sa 2½", "Sa 2½", "not judged"),
    grade(SSPC, STORED, "SSPC-SP 10", "SP5", "pass"),
    grade(SSPC, STORED, "SSPC-SP 10", "SSPC-SP 6", "fail"),
    grade(SSPC, MEMORY, "SSPC-SP 6", "SSPC-SP 14", "fail"),
    grade("SSPC-SP 10 / NACE No. 2 is one joint standard (its title)", STORED, "SSPC-SP 10/NACE No. 2", "NACE No. 1",
          "pass"),
    grade(NEAR, STORED, "Sa 2½", "SSPC-SP 10", "not judged"),
    grade(NEAR, STORED, "Sa 2½", "St 3", "not judged"),
    grade(JETTING, STORED, "WJ-2", "WJ-1", "pass"),
    grade(JETTING, STORED, "WJ-2", "WJ-3", "fail"),
    grade(ISO_4, STORED, "Wa 2", "Wa 2½", "pass"),
    grade(ISO_4, STORED, "Wa 2½", "WJ-1", "not judged"),
    grade(WET, STORED, "WAB-2", "WAB-3", "fail"),
    grade(BARE, STORED, "SSPC-SP 15", "SSPC-SP 11", "pass"),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check):
    holds(check)
