"""What is asked of the steel before its first coat: by the coating system, the rule it is held to, or the plan."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from inspection.fieldwork.abrasive.models import AbrasiveRecord
from inspection.fieldwork.air.models import AirRecord
from inspection.fieldwork.cleanliness.models import CleanlinessRecord
from inspection.fieldwork.dust import kind as dust
from inspection.fieldwork.look.models import LookRecord
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.fieldwork.salts import kind as salts
from inspection.fieldwork.steelwork import kind as steelwork
from inspection.plan.models import PlanLine
from inspection.projects.models import CoatingSystem

IMO_TABLE = "IMO MSC.215(82), Table 1"


def _of_steelwork(system: CoatingSystem) -> str:
    if system.steelwork_grade:
        return f"Coating system {system}: preparation grade {system.steelwork_grade}, ISO 8501-3"
    grade = steelwork.DECLARED.limits(system).get("grade")
    return f"{IMO_TABLE}: preparation grade {grade}" if grade else ""


def _of_cleanliness(system: CoatingSystem) -> str:
    return f"Coating system {system}: {system.preparation_grade}" if system.preparation_grade else ""


def _of_profile(system: CoatingSystem) -> str:
    limited = system.profile_min_nm is not None or system.profile_max_nm is not None
    return f"Coating system {system}: limits of the surface profile" if limited else ""


def _of_salts(system: CoatingSystem) -> str:
    limit = salts.DECLARED.limits(system).get("limit_mg_m2")
    if limit is None:
        return ""
    by = IMO_TABLE if system.salts_max_mg_m2 is None else f"Coating system {system}"
    return f"{by}: at most {limit} mg/m² of soluble salts"


def _of_dust(system: CoatingSystem) -> str:
    if not dust.DECLARED.limits(system):
        return ""
    stated = system.dust_max_quantity is not None or system.dust_max_size is not None
    return f"Coating system {system}: limits of dust, ISO 8502-3" if stated else f"{IMO_TABLE}: dust"


def _by_no_system(system: CoatingSystem) -> str:
    return ""


By = Callable[[CoatingSystem], str]
# Those that come before the blast, and those after it, in the order of the work. The hours to the first coat are a
# link of their own.
BEFORE_BLAST: dict[str, By] = {
    steelwork.KIND.name: _of_steelwork, AirRecord.KIND: _by_no_system, AbrasiveRecord.KIND: _by_no_system,
}  # fmt: skip
AFTER_BLAST: dict[str, By] = {
    CleanlinessRecord.KIND: _of_cleanliness, ProfileRecord.KIND: _of_profile, salts.KIND.name: _of_salts,
    dust.KIND.name: _of_dust, LookRecord.KIND: _by_no_system,
}  # fmt: skip
ON_STEEL = BEFORE_BLAST | AFTER_BLAST
STEEL_KINDS = tuple(ON_STEEL)


def asked_by(system: CoatingSystem, kind: str, lines: Iterable[PlanLine]) -> str:
    """What asks for a kind of record of the bare steel, in words; empty where nothing does."""
    return ON_STEEL[kind](system) or line_asking(kind, lines)


def line_asking(kind: str, lines: Iterable[PlanLine]) -> str:
    """The line of the plan that requires such a record on the bare steel, in words."""
    for line in lines:
        if line.coat_order is None and any(each.kind == kind for each in line.requirements.all()):
            return of_plan(line)
    return ""


def of_plan(line: PlanLine) -> str:
    return f"Line {line} of the plan"
