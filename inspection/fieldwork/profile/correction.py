"""What a surface profile record gives to be subtracted from thickness readings, by the way the profile is dealt with.

A gauge adjusted on smooth steel also sees the profile: ISO 19840 subtracts a value from its table by the grade of the
profile (medium and coarse stored source, fine and unknown from memory). SSPC-PA 2 subtracts the base metal reading, the
mean of about ten readings of the same gauge on the bare blasted steel (stored source). The height of the profile itself
is never subtracted: it is no reading of the gauge.
"""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple
from uuid import UUID

from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.units import um
from inspection.standards import calculate
from inspection.standards.profile import CORRECTIONS_UM

FIELD = "profile_record"
UNKNOWN = "unknown"


class Correction(NamedTuple):
    """What is subtracted, and how that was found, in words."""

    nm: int
    words: str


def correction_of(profile: ProfileRecord, way: str) -> Correction:
    """The correction that the record gives. Raises Refused where it has none to give for this way."""
    if way == ThicknessRecord.ProfileWay.CORRECTION:
        return _of_table(profile)
    if way == ThicknessRecord.ProfileWay.BASE_METAL:
        readings = profile.base_metal_nm
        if not readings:
            raise Refused("That record holds no base metal readings; add them by a correction of it.", field=FIELD)
        mean = round(Fraction(sum(readings), len(readings)))
        return Correction(mean, f"mean of {len(readings)} base metal readings")
    raise Refused("A gauge adjusted on the blasted surface takes no correction from a record.", field=FIELD)


def _of_table(profile: ProfileRecord) -> Correction:
    grade = UNKNOWN
    if profile.abrasive:
        given = {"profile_um": um(profile.mean_nm), "abrasive": profile.abrasive}
        grade = str(calculate("profile-grade", given)["grade"])
    if grade not in CORRECTIONS_UM:
        raise Refused(
            f"The profile of that record is {grade}, for which the table of ISO 19840 has no value; find it on the "
            "surface (its Annex D) and type it.", field=FIELD,
        )  # fmt: skip
    nm = round(Fraction(str(calculate("profile-correction", {"grade": grade})["correction_um"])) * 1000)
    return Correction(nm, f"ISO 19840, profile {grade}")


def settled_correction(*, area: UUID, way: str, correction_nm: int, profile: ProfileRecord | None) -> int:
    """What is subtracted: as typed, or as the profile record gives it. Raises Refused where the two disagree.

    A record that was replaced since is taken all the same: evidence is kept, and its standing tells the doubt.
    """
    if profile is None:
        return correction_nm
    if profile.area_id != area:
        raise Refused(Fault(f"That profile was measured on {profile.area.label}.", FIELD))
    given = correction_of(profile, way)
    if correction_nm not in (0, given.nm):
        message = f"The profile record gives {um(given.nm)} µm ({given.words}); leave this out, or choose no record."
        raise Refused(Fault(message, "correction"))
    return given.nm
