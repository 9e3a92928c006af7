"""Cleanliness as a kind of record."""

from __future__ import annotations

from collections.abc import Iterator

from inspection.fieldwork.asked import Choice, Number, Words
from inspection.fieldwork.cleanliness.models import CleanlinessRecord
from inspection.fieldwork.declared import Declared, Given, limits_of
from inspection.fieldwork.kind import Column, Discipline, Facts, RecordKind, Reliance
from inspection.foundation.refusals import Fault
from inspection.projects.coating import CoatingSystem
from inspection.standards.cleanliness import in_one_way, places_of

LONGEST_GRADE = 40
# SSPC-Guide 12 asks 50 foot-candles at the least for inspection (stored source: a shipyard's project page).
LEAST_LIGHT_LX = 538

ASKED = (
    Words(
        name="found", label="Grade found", longest=LONGEST_GRADE,
        help="As assessed, in the scheme of the specification, such as Sa 2½. It is never converted to another.",
    ),
    Words(
        name="wanted", label="Grade asked for", longest=LONGEST_GRADE, required=False,
        help="Empty: the coating system’s. Give it where the specification asks another here, as St 3 at a joint.",
    ),
    Choice(
        name="start_condition", label="Steel before", required=False, choices=CleanlinessRecord.StartCondition.choices,
        help="Rust grade of ISO 8501-1, or previously coated.",
    ),
    Words(
        name="pre_cleaning", label="Pre-cleaning", required=False,
        help="Method, product and how it was checked, before blasting, such as SSPC-SP 1, wiped, no oil under UV.",
    ),
    Number(name="share_pct", label="Share of the area looked at", unit="%", least=1, most=100, required=False),
    Number(name="light_lx", label="Light", unit="lx", most=200_000, required=False),
    Words(
        name="compared_with", label="Compared with", required=False,
        help="Photographs or reference panel, by their number.",
    ),
)  # fmt: skip


def _limits(system: CoatingSystem) -> dict[str, str]:
    return limits_of(grade=system.preparation_grade)


def wanted_of(record: CleanlinessRecord) -> str:
    return record.wanted or str(record.asked_for["grade"])


def _is_known(grade: str) -> bool:
    try:
        return bool(places_of(grade))
    except ValueError:
        return False


def _given(record: CleanlinessRecord) -> Given:
    if not record.wanted and not _is_known(wanted_of(record)):
        return Given(
            "", {}, f"“{wanted_of(record)}”, as the coating system asks, is no grade known here; say which is."
        )
    return Given("cleanliness-grade", {"wanted": wanted_of(record), "found": record.found})


def _doubts(record: CleanlinessRecord) -> Iterator[Fault]:
    specified = record.asked_for.get("grade", "")
    if record.wanted and in_one_way(record.wanted) != in_one_way(specified):
        yield Fault(f"The coating system asks for {specified}; another grade is held to here.", "wanted")
    if record.light_lx is not None and record.light_lx < LEAST_LIGHT_LX:
        yield Fault(
            f"{record.light_lx} lx: SSPC-Guide 12 asks at least {LEAST_LIGHT_LX} lx (50 foot-candles) for inspection.",
            "light_lx",
        )
    if record.start_condition == CleanlinessRecord.StartCondition.D:
        yield Fault("Steel of grade D holds salts in its pits: test more of it for salts (common practice, no source).",
                    "start_condition")  # fmt: skip


def _facts(record: CleanlinessRecord) -> Facts:
    return [("Asked for", wanted_of(record)), *((label, told) for label, told in DECLARED.facts(record)
                                                if label != "Grade asked for")]  # fmt: skip


DECLARED = Declared(
    model=CleanlinessRecord,
    one="cleanliness record",
    asked=ASKED,
    limits=_limits,
    given=_given,
    doubts=_doubts,
    told=lambda record: {"wanted": wanted_of(record), "found": record.found},
    fields={},
)

KIND = RecordKind(
    name=CleanlinessRecord.KIND,
    title="Cleanliness",
    one=DECLARED.one,
    many="cleanliness records",
    lead="How clean the prepared steel was found, by a grade as written.",
    model=CleanlinessRecord,
    instrument=None,
    reliance=Reliance.SEEN,
    discipline=Discipline.PREPARATION,
    of_coat="",
    columns=(Column("Found", lambda record: record.found), Column("Asked for", wanted_of)),
    sentence=lambda record: f"Found {record.found}, asked for {wanted_of(record)}",
    facts=_facts,
    digest=DECLARED.digest,
    verdict=DECLARED.verdict,
    warnings=DECLARED.warnings,
    doubts=DECLARED.all_doubts,
    taken=DECLARED.taken(),
    reach="A grade is a judgement by eye. It says nothing of salts, dust or profile.",
    caution="Stay out of the blast area, let pressure off hoses first, and find out about lead, chromates and asbestos "
    "in an old coating. Local rules come first.",
)
