"""Instruments and their papers. The company's people see all of them, outsiders those used on their projects."""

from __future__ import annotations

from typing import Any

from inspection.foundation.ids import new_id
from tests.cast import MORNING
from tests.sight.rows import ADMIN, AUDITOR, INSPECTOR, MANAGER, Row, pk_of
from tests.sight.world import Place

KEEPERS = (INSPECTOR, MANAGER)
# What the company has chosen for its instruments is no client's matter.
RULE_READERS = (INSPECTOR, MANAGER, AUDITOR, ADMIN)
# The company's inspectors share instruments, whatever project they were used on.
SHARED = {"scoped": True, "foreign_seen": (INSPECTOR,), "names_others_to": (INSPECTOR,)}
GAUGE = {"args": pk_of("gauge"), **SHARED}
SHIM = {"args": pk_of("shim"), **SHARED}
PAPER = {"args": pk_of("certificate"), **SHARED}
LIST = {"names_others_to": (INSPECTOR,)}


def check_sent(place: Place) -> dict[str, Any]:
    """A whole check of a gauge, so that a person without the right is refused for that and not for a missing field."""
    shim = place.things["shim"]
    return {
        "id": new_id(), "gauge": place.things["gauge"].pk, "project": place.site.project.pk, "purpose": "closing",
        "adjustment": "none", "surface": "smooth", "taken_at": MORNING,
        "points": [{"standards": [shim.pk], "readings_um": [50, 50.1, 50.2]}],
    }  # fmt: skip


def incident_sent(place: Place) -> dict[str, Any]:
    return {"id": new_id(), "at": MORNING, "what": "Fell from the scaffold board"}


def certificates_sent(place: Place) -> dict[str, Any]:
    thing = place.things["gauge"].identity
    rows = f"number;laboratory;issued;expires;traceable_to;thing\nC-900;Lab A;2026-03-01;2027-03-01;SI;{thing}\n"
    return {"name": "c.csv", "rows": rows}


ROWS = [
    Row("equipment", **LIST),
    Row("equipment_by_identity", args=lambda place: {"identity": place.things["gauge"].identity},
        answers=frozenset({302}), **SHARED),
    Row("labels", allowed=KEEPERS, **LIST),
    Row("instrument_rules", allowed=RULE_READERS),
    Row("instrument_rules", "POST", allowed=(MANAGER,)),
    Row("gauge", **GAUGE),
    Row("gauge_chart", **GAUGE),
    Row("gauge_new", allowed=(MANAGER,)),
    Row("gauge_new", "POST", allowed=(MANAGER,)),
    Row("gauge_hand_over", allowed=KEEPERS, **GAUGE),
    Row("gauge_hand_over", "POST", allowed=KEEPERS, **GAUGE),
    Row("gauge_confirm", "POST", allowed=KEEPERS, **GAUGE),
    Row("gauge_state", allowed=KEEPERS, **GAUGE),
    Row("gauge_correct", allowed=(MANAGER,), **GAUGE),
    Row("gauge_correct", "POST", allowed=(MANAGER,), **GAUGE),
    Row("gauge_state", "POST", allowed=KEEPERS, **GAUGE),
    Row("gauge_checks", allowed=(MANAGER,), **GAUGE),
    Row("gauge_checks", "POST", allowed=(MANAGER,), **GAUGE),
    Row("incident_new", allowed=KEEPERS, **GAUGE),
    Row("incident_new", "POST", allowed=KEEPERS, **GAUGE),
    Row("standard", **SHIM),
    Row("standard_new", allowed=(MANAGER,)),
    Row("standard_new", "POST", allowed=(MANAGER,)),
    Row("standard_hand_over", allowed=KEEPERS, **SHIM),
    Row("standard_hand_over", "POST", allowed=KEEPERS, **SHIM),
    Row("standard_confirm", "POST", allowed=KEEPERS, **SHIM),
    Row("standard_state", allowed=KEEPERS, **SHIM),
    Row("standard_correct", allowed=(MANAGER,), **SHIM),
    Row("standard_correct", "POST", allowed=(MANAGER,), **SHIM),
    Row("standard_state", "POST", allowed=KEEPERS, **SHIM),
    Row("certificate_list", **LIST),
    Row("certificate", **PAPER),
    Row("certificate_file", **PAPER),
    Row("certificate_new", allowed=(MANAGER,)),
    Row("certificate_new", "POST", allowed=(MANAGER,)),
    Row("certificate_upload", allowed=(MANAGER,)),
    Row("certificate_upload", "POST", allowed=(MANAGER,)),
    Row("api_certificate_table", "POST", data=certificates_sent, allowed=(MANAGER,), answers=frozenset({201})),
    Row("certificate_correct", allowed=(MANAGER,), **PAPER),
    Row("certificate_correct", "POST", allowed=(MANAGER,), **PAPER),
    Row("verification_list", **LIST),
    Row("verification", args=pk_of("verification"), **SHARED),
    Row("verification_new", allowed=KEEPERS),
    Row("verification_new", "POST", allowed=KEEPERS),
    Row("api_gauge_list", **LIST),
    Row("api_gauge", **GAUGE),
    Row("api_incident_report", "POST", allowed=KEEPERS, data=incident_sent, answers=frozenset({201}), **GAUGE),
    Row("api_gauge_hand_over", "POST", allowed=KEEPERS, **GAUGE),
    Row("api_gauge_receipt", "POST", allowed=KEEPERS, **GAUGE),
    Row("api_standard_hand_over", "POST", allowed=KEEPERS, **SHIM),
    Row("api_standard_receipt", "POST", allowed=KEEPERS, **SHIM),
    Row("api_standard_list", **LIST),
    Row("api_standard", **SHIM),
    Row("api_certificate_list", **LIST),
    Row("api_certificate", **PAPER),
    Row("api_instrument_rules", allowed=RULE_READERS),
    Row("api_verification_list", **LIST),
    Row("api_verification_list", "POST", allowed=KEEPERS, data=check_sent, answers=frozenset({201})),
    Row("api_verification", args=pk_of("verification"), **SHARED),
]  # fmt: skip
