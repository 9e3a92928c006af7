"""Instruments and their papers. The company's people see all of them, outsiders those used on their projects."""

from tests.sight.rows import INSPECTOR, MANAGER, Row, pk_of

KEEPERS = (INSPECTOR, MANAGER)
# The company's inspectors share instruments, whatever project they were used on.
SHARED = {"scoped": True, "foreign_seen": (INSPECTOR,), "names_others_to": (INSPECTOR,)}
GAUGE = {"args": pk_of("gauge"), **SHARED}
SHIM = {"args": pk_of("shim"), **SHARED}
PAPER = {"args": pk_of("certificate"), **SHARED}
LIST = {"names_others_to": (INSPECTOR,)}

ROWS = [
    Row("equipment", **LIST),
    Row("equipment_by_identity", args=lambda place: {"identity": place.things["gauge"].identity},
        answers=frozenset({302}), **SHARED),
    Row("gauge", **GAUGE),
    Row("gauge_chart", **GAUGE),
    Row("gauge_new", allowed=(MANAGER,)),
    Row("gauge_new", "POST", allowed=(MANAGER,)),
    Row("gauge_hand_over", allowed=KEEPERS, **GAUGE),
    Row("gauge_hand_over", "POST", allowed=KEEPERS, **GAUGE),
    Row("gauge_state", allowed=KEEPERS, **GAUGE),
    Row("gauge_state", "POST", allowed=KEEPERS, **GAUGE),
    Row("incident_new", allowed=KEEPERS, **GAUGE),
    Row("incident_new", "POST", allowed=KEEPERS, **GAUGE),
    Row("standard", **SHIM),
    Row("standard_new", allowed=(MANAGER,)),
    Row("standard_new", "POST", allowed=(MANAGER,)),
    Row("standard_hand_over", allowed=KEEPERS, **SHIM),
    Row("standard_hand_over", "POST", allowed=KEEPERS, **SHIM),
    Row("standard_state", allowed=KEEPERS, **SHIM),
    Row("standard_state", "POST", allowed=KEEPERS, **SHIM),
    Row("certificate_list", **LIST),
    Row("certificate", **PAPER),
    Row("certificate_file", **PAPER),
    Row("certificate_new", allowed=(MANAGER,)),
    Row("certificate_new", "POST", allowed=(MANAGER,)),
    Row("certificate_correct", allowed=(MANAGER,), **PAPER),
    Row("certificate_correct", "POST", allowed=(MANAGER,), **PAPER),
    Row("verification_list", **LIST),
    Row("verification", args=pk_of("verification"), **SHARED),
    Row("verification_new", allowed=KEEPERS),
    Row("verification_new", "POST", allowed=KEEPERS),
]  # fmt: skip
