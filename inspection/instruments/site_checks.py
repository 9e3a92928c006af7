"""What the check on site of each kind of instrument is: on what, how many readings, within what, how often.

One home for it: pages, API, the action that records a check, standing and reminders go by these declarations.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import F, Q

from inspection.instruments.models import SOLUTION_UNIT, Gauge, ReferenceStandard

SHIM, COATED, ZERO = ReferenceStandard.Kind.SHIM, ReferenceStandard.Kind.COATED, ReferenceStandard.Kind.ZERO
SOLUTION, INSTRUMENT = ReferenceStandard.Kind.SOLUTION, ReferenceStandard.Kind.INSTRUMENT
# Judged by the stated accuracy and the uncertainty of the standard; and by a tolerance of the check.
BY_ACCURACY, BY_TOLERANCE = "verify-gauge", "check-instrument"


@dataclass(frozen=True)
class SiteCheck:
    """The check on site of one kind of instrument."""

    kind: Gauge.Kind
    # What it can be checked on; and of which each must be among the points.
    on: tuple[ReferenceStandard.Kind, ...]
    wants: tuple[ReferenceStandard.Kind, ...] = ()
    # Of what is no thickness.
    unit: str = ""
    # What is usual; a gauge can have its own. None: it is to be said of each gauge.
    usual_pct: Decimal | None = None
    # Readings usually taken on a point.
    readings: int = 1
    # Whether it is made before and after work, so that the standing of records can follow from it.
    each_shift: bool = True
    source: str = ""
    # How it is done, a sentence each; and what can hurt whoever does it.
    handling: tuple[str, ...] = ()
    caution: str = ""

    @property
    def of_thickness(self) -> bool:
        return not self.unit

    @property
    def calculation(self) -> str:
        return BY_ACCURACY if self.of_thickness else BY_TOLERANCE

    @property
    def by_reference_read(self) -> bool:
        """Whether the reference is what another instrument shows, rather than what a certificate states."""
        return self.on == (INSTRUMENT,)


_DECLARED = (
    SiteCheck(
        Gauge.Kind.THICKNESS, on=(SHIM, COATED, ZERO), readings=3,
        source="SSPC-PA 2, checked at beginning and end of each shift (from memory); three readings common practice",
    ),
    SiteCheck(
        Gauge.Kind.PROFILE, on=(ZERO, SHIM), wants=(ZERO, SHIM), readings=3,
        source="zero on glass or closed anvils, then a foil or shim (common practice, no source)",
        handling=(
            "Depth micrometer: stand it on clean plate glass for zero, then on a foil on the glass.",
            "Replica micrometer: close the clean anvils for zero, then measure a shim between them.",
            "Wipe tip and anvils first; a grain of abrasive reads as profile.",
        ),
    ),
    SiteCheck(
        Gauge.Kind.SALTS, on=(SOLUTION,), unit=SOLUTION_UNIT, usual_pct=Decimal(5),
        source="standard solution each shift, within 5 % (common practice, no source)",
        handling=(
            "Rinse the cell with a little of the solution, throw that away, and fill it again.",
            "Let solution and meter come to one temperature; say in the note if the meter does not bring it to 25 °C.",
            "Never pour a used portion back; close the bottle at once.",
        ),
    ),
    SiteCheck(
        Gauge.Kind.HOLIDAY, on=(INSTRUMENT,), unit="V", usual_pct=Decimal(5),
        source="voltage set against a voltmeter, within 5 % (from memory)",
        caution="High voltage can kill. Connect the voltmeter as its maker says, with the detector off, one person at "
        "a time; local rules go before all of this.",
        handling=(
            "Use a voltmeter made for the voltage and its pulses; an ordinary one reads too low and may break.",
            "Check near the voltage of the test, with electrode and earth as they will be used.",
        ),
    ),
    SiteCheck(
        Gauge.Kind.CLIMATE, on=(INSTRUMENT,), unit="°C", each_shift=False,
        source="certificate, and compared with another instrument now and then (common practice, no source)",
        handling=("Let both lie side by side, in shade and still air, until neither moves.",),
    ),
    SiteCheck(
        Gauge.Kind.ADHESION, on=(INSTRUMENT,), unit="MPa", each_shift=False,
        source="certificate, and compared with a load cell now and then (common practice, no source)",
        handling=("Load both together, upwards, at the rate of the test.",),
    ),
)  # fmt: skip
SITE_CHECKS: dict[str, SiteCheck] = {check.kind.value: check for check in _DECLARED}
# The instruments of which it can be chosen that they are checked before and after work.
CHOSEN_KINDS = tuple(kind for kind, check in SITE_CHECKS.items() if check.each_shift and kind != Gauge.Kind.THICKNESS)


def site_check_of(gauge: Gauge) -> SiteCheck | None:
    """What its check on site is; None for an instrument that has none."""
    return SITE_CHECKS.get(gauge.kind)


def tolerance_of(gauge: Gauge) -> tuple[Decimal | None, Decimal | None]:
    """Share in percent and fixed part that its checks are held to; neither where nobody has said it."""
    if gauge.check_tolerance_pct is not None or gauge.check_tolerance is not None:
        return gauge.check_tolerance_pct, gauge.check_tolerance
    check = site_check_of(gauge)
    return (check.usual_pct if check else None), None


def lacking(gauge: Gauge) -> str:
    """What has to be registered of the gauge before a check can be judged; empty where nothing is missing."""
    check = site_check_of(gauge)
    if check and check.of_thickness and not gauge.accuracy_pct and not gauge.accuracy_nm:
        return "its stated accuracy is not registered, and its checks are judged by it: correct its data"
    if check and not check.of_thickness and not any(tolerance_of(gauge)):
        return "nobody has said within what it is to agree: set the tolerance of its checks"
    return ""


def tolerance_told(gauge: Gauge) -> str:
    """The tolerance in words; empty where its stated accuracy decides, or nobody has said one."""
    check, (pct, fixed) = site_check_of(gauge), tolerance_of(gauge)
    if check is None or check.of_thickness:
        return ""
    parts = [f"{pct.normalize():f} %"] if pct else []
    parts += [f"{fixed.normalize():f} {check.unit}"] if fixed else []
    return f"± {' ± '.join(parts)}" if parts else ""


def is_checked(gauge: Gauge, at: datetime) -> bool:
    """Whether the gauge was to be checked before and after work at the moment."""
    if gauge.kind == Gauge.Kind.THICKNESS:
        return True
    return gauge.kind in CHOSEN_KINDS and gauge.checked_since is not None and gauge.checked_since <= at


def measured_between_checks(moment: str = "taken_at") -> Q:
    """Of records, those whose instrument was to be checked before and after work when they were begun.

    Thickness records are not among them: their kind says it of all of them.
    """
    return Q(gauge__kind__in=CHOSEN_KINDS, gauge__checked_since__lte=F(moment))


def kinds_told(kinds: Iterable[ReferenceStandard.Kind]) -> str:
    return " or ".join(str(kind.label).split(",")[0].lower() for kind in kinds)
