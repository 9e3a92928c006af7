"""What is recorded of the steel before it is painted, against what is known of the standards."""

import pytest

from tests.reference.table import MEMORY, STORED, Check, holds

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


CHECKS = [
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
