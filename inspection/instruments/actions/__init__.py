"""Every change to instruments, their certificates and their checks."""

from inspection.foundation.attachments import UploadedContent
from inspection.instruments.actions.asking_checks import ask_for_checks
from inspection.instruments.actions.certificates import (
    Paper,
    StandardValue,
    correct_certificate,
    paper_faults,
    record_certificate,
    record_certificates,
    reinstate_certificate,
    withdraw_certificate,
)
from inspection.instruments.actions.check_points import PointSent
from inspection.instruments.actions.company_rules import choose_rules
from inspection.instruments.actions.corrections import correct_equipment
from inspection.instruments.actions.equipment import (
    confirm_custody,
    hand_over,
    register_gauge,
    register_standard,
    report_incident,
    set_state,
)
from inspection.instruments.actions.verifications import record_verification

__all__ = [
    "Paper",
    "PointSent",
    "StandardValue",
    "UploadedContent",
    "ask_for_checks",
    "choose_rules",
    "confirm_custody",
    "correct_certificate",
    "correct_equipment",
    "hand_over",
    "paper_faults",
    "record_certificate",
    "record_certificates",
    "record_verification",
    "register_gauge",
    "register_standard",
    "reinstate_certificate",
    "report_incident",
    "set_state",
    "withdraw_certificate",
]
