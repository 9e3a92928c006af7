"""Steelwork as a kind of record."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from inspection.fieldwork.asked import Choice, Number, Rows
from inspection.fieldwork.declared import Declared, Given, limits_of
from inspection.fieldwork.kind import Column, Discipline, Facts, RecordKind, Reliance
from inspection.fieldwork.steelwork.models import SteelworkRecord
from inspection.foundation.refusals import Fault
from inspection.projects.coating import CoatingSystem, SteelworkGrade
from inspection.standards.before_paint import BELOW_P1, EDGES, IMPERFECTIONS, P_GRADES

IMO_EDGES = "2 mm radius or three passes"
GRADES = [*((grade, grade) for grade in P_GRADES), (BELOW_P1, "Below P1")]

ASKED = (
    Rows(
        name="imperfections", label="Imperfections, a line for each", one="imperfection", most=500,
        of=(
            Choice(name="type", label="Type", choices=list(IMPERFECTIONS.items())),
            Choice(name="grade", label="Reaches", choices=GRADES),
            Number(name="radius_mm", label="Radius", unit="mm", most=100, places=1, required=False),
        ),
        help=f"Place, colon, type, grade it reaches, of an edge its radius in mm, such as Seam 4: undercut P3 or "
        f"Flange: rolled-edge P3 2.5. Types: {', '.join(IMPERFECTIONS)}. Grades: P1, P2, P3, {BELOW_P1}.",
    ),
    Choice(
        name="wanted_grade", label="Grade asked for", choices=SteelworkGrade.choices, required=False,
        help="Empty: the coating system’s. Give it where the specification asks another here.",
    ),
    Number(
        name="grinding_passes", label="Grinding passes of the edges", most=100, required=False,
        help="Three do instead of the radius in ballast tanks (IMO PSPC).",
    ),
)  # fmt: skip


def _limits(system: CoatingSystem) -> dict[str, Any]:
    if system.of_ballast_tanks:
        # IMO MSC.215(82), Table 1: P2, with edges of 2 mm radius or three passes (stored source: forum answer).
        return limits_of(grade=system.steelwork_grade or SteelworkGrade.P2.value, edges=IMO_EDGES)
    return limits_of(grade=system.steelwork_grade)


def wanted_of(record: SteelworkRecord) -> str:
    return record.wanted_grade or str(record.asked_for.get("grade", ""))


def _given(record: SteelworkRecord) -> Given:
    grade = wanted_of(record)
    if not grade:
        return Given("", {}, "The coating system of this area asks for no preparation grade of welds and edges.")
    found = [{name: value for name, value in each.items() if value not in (None, "")} for each in record.imperfections]
    edges = {"edges": record.asked_for["edges"]} if "edges" in record.asked_for else {}
    passes = {} if record.grinding_passes is None else {"grinding_passes": record.grinding_passes}
    return Given("steelwork-grades", {"grade": grade, "found": found, **edges, **passes})


def _doubts(record: SteelworkRecord) -> Iterator[Fault]:
    specified = record.asked_for.get("grade", "")
    if record.wanted_grade and specified and record.wanted_grade != specified:
        yield Fault(f"The coating system asks for {specified}; another grade is held to here.", "wanted_grade")
    if not any(each["type"] in EDGES for each in record.imperfections):
        yield Fault("No edge is told of; edges lose paint first.", "imperfections")


def lowest_of(record: SteelworkRecord) -> str:
    grades = [each["grade"] for each in record.imperfections]
    return BELOW_P1 if BELOW_P1 in grades else min(grades)


def _facts(record: SteelworkRecord) -> Facts:
    found = [("Asked for", wanted_of(record) or "no grade specified"), ("Lowest found", lowest_of(record))]
    return [*found, *((label, told) for label, told in DECLARED.facts(record) if label != "Grade asked for")]


DECLARED = Declared(
    model=SteelworkRecord,
    one="steelwork record",
    asked=ASKED,
    limits=_limits,
    given=_given,
    doubts=_doubts,
    told=lambda record: {"imperfections": len(record.imperfections), "lowest": lowest_of(record)},
    fields={"found": "imperfections", "grade": "wanted_grade"},
)

KIND = RecordKind(
    name=SteelworkRecord.KIND,
    title="Steelwork",
    one=DECLARED.one,
    many="steelwork records",
    lead="Welds, edges and surface before they are painted, by the preparation grade each imperfection reaches.",
    model=SteelworkRecord,
    instrument=None,
    reliance=Reliance.SEEN,
    discipline=Discipline.PREPARATION,
    of_coat="",
    columns=(Column("Lowest", lowest_of), Column("Asked for", wanted_of)),
    sentence=lambda record: (
        f"{len(record.imperfections)} told of, lowest {lowest_of(record)}, asked for {wanted_of(record) or 'no grade'}"
    ),
    facts=_facts,
    digest=DECLARED.digest,
    verdict=DECLARED.verdict,
    warnings=DECLARED.warnings,
    doubts=DECLARED.all_doubts,
    parts=DECLARED.parts,
    taken=DECLARED.taken(),
    reach="What a type may show at a grade stands in ISO 8501-3; whoever looked assessed it.",
    caution="Ground edges cut and grinding throws sparks: gloves, eyes, hot-work permit where there are vapours.",
)
